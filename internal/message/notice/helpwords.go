package notice

import (
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
)

func helps(s phrase.Speaker, v farm.Verdict) []string {
	var late []string
	if v.State == farm.TooLate {
		late = []string{s.Say(lateKey(v), nil)}
	}
	if len(v.Helps) == 0 {
		return late
	}
	parts := []string{s.Say("help.lead", nil)}
	for _, h := range v.Helps {
		key := "help.cover"
		if h.Holds {
			key = "help.cover_holds"
		}
		parts = append(parts, s.Say(key, phrase.Args{"cover": HelpName(s, h), "chance": s.Chance(h.Likelihood)}))
	}
	return append([]string{strings.Join(parts, " ")}, late...)
}

// lateKey is what still helps when no window is left: leaves want a cover, what
// is in the ground wants straw.
func lateKey(v farm.Verdict) string {
	switch v.Cause {
	case farm.GroundFrozen, farm.ShoulderFreeze, farm.CrownFreeze:
		return "help.too_late_ground"
	}
	return "help.too_late"
}

// HelpName is a protection in the reader's words.
func HelpName(s phrase.Speaker, h farm.Help) string {
	if h.Cover != "" {
		return s.Say("cover."+h.Cover, nil)
	}
	return s.Say("cover.mulch", phrase.Args{"depth": s.Units.Depth(h.MulchCm)})
}

// mostWindows are listed, those nearest the deadline.
const mostWindows = 4

func windows(s phrase.Speaker, v farm.Verdict) []string {
	by, ok := v.HarvestBefore.Get()
	if v.State != farm.HarvestBefore || !ok {
		return nil
	}
	var parts []string
	for _, w := range v.Windows {
		if !w.Start.Before(by) {
			break
		}
		if w.End.After(by) {
			w.End = by
		}
		parts = append(parts, s.When(w.Start)+" – "+s.Clock(w.End))
	}
	if len(parts) == 0 {
		return nil
	}
	parts = parts[max(0, len(parts)-mostWindows):]
	return []string{s.Say("body.window", phrase.Args{"windows": strings.Join(parts, "; ")})}
}
