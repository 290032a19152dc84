package notice

import (
	"cmp"
	"fmt"
	"strings"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// soundLeft is what the model thinks a night has left.
func soundLeft(s phrase.Speaker, v farm.Verdict) []string {
	switch {
	case v.State == farm.Unknown:
		return nil
	case v.AlreadyLost:
		return []string{ReasonText(s, v)}
	}
	return []string{s.Say("reason.sound_left", phrase.Args{"share": percent(v.SoldLeft)})}
}

func percent(share float64) string { return fmt.Sprintf("%.0f %%", share*100) }

// Unseen says why a bed cannot be judged.
func Unseen(s phrase.Speaker, v farm.Verdict) string {
	why := cmp.Or(v.Blind, farm.Holes) // verdicts of before the ways to be blind had names
	return s.Say("unseen."+string(why), phrase.Args{"issued": s.When(v.Forecast.Issued), "missing": Missing(s, v.Missing)})
}

// ReasonText is the sentence that says why, in the reader's units.
func ReasonText(s phrase.Speaker, v farm.Verdict) string {
	var parts []string
	switch {
	case v.State == farm.Unknown:
		parts = append(parts, Unseen(s, v))
	case v.NothingLeft:
		parts = append(parts, s.Say("reason.nothing_left", reasonArgs(s, v)))
	case v.AlreadyLost:
		parts = append(parts, s.Say("reason.already_lost", reasonArgs(s, v)))
	case v.State == farm.Holds && !v.AirLow.Known():
		parts = append(parts, s.Say("reason.holds_plain", nil))
	case v.State == farm.Holds:
		parts = append(parts, s.Say("reason.holds", reasonArgs(s, v)))
	default:
		parts = append(parts, s.Say("reason."+string(v.Cause), reasonArgs(s, v)))
		parts = append(parts, balance(s, v)...)
	}
	parts = append(parts, ground(s, v)...)
	if v.DefaultStart {
		parts = append(parts, s.Say("reason.default_start", phrase.Args{"hours": fmt.Sprint(v.HistoryHours)}))
	}
	return strings.Join(parts, " ")
}

// balance says what the figures alone would not: that a bed is to be harvested
// though the most likely course would spare it.
func balance(s phrase.Speaker, v farm.Verdict) []string {
	low, ok := v.TissueLow.Get()
	stands, known := v.ToleranceThen.Get()
	if ok && known && low > stands && v.Cause != farm.GroundFrozen && v.Cause != farm.Chilling {
		return []string{s.Say("reason.likely_stands", nil)}
	}
	return nil
}

func reasonArgs(s phrase.Speaker, v farm.Verdict) phrase.Args {
	args := phrase.Args{"organ": s.Say("organ."+string(v.Organ), nil)}
	if v.Night != "" {
		args["night"] = s.Night(v.Night)
	}
	put := func(name string, m unit.Maybe[unit.Celsius]) {
		if c, ok := m.Get(); ok {
			args[name] = s.Temperature(c)
		}
	}
	put("low", v.AirLow)
	put("worst", v.AirLow)
	put("worst", v.AirLowP10)
	put("tissue", v.TissueLow)
	put("tissue_worst", v.TissueLow)
	put("tissue_worst", v.TissueLowP10)
	put("tolerance", v.Tolerance)
	put("tolerance", v.ToleranceThen)
	return args
}

// leastDepth of snow or frost that is worth a word, cm: less rounds to nothing in
// inches.
const leastDepth = 1.5

func ground(s phrase.Speaker, v farm.Verdict) []string {
	var parts []string
	if cm, ok := v.Snow.Get(); ok && cm >= leastDepth {
		parts = append(parts, s.Say("reason.snow", phrase.Args{"depth": s.Units.Depth(cm)}))
	}
	if cm, ok := v.Frozen.Get(); ok && cm >= leastDepth {
		parts = append(parts, s.Say("reason.frozen", phrase.Args{"depth": s.Units.Depth(cm)}))
	}
	return parts
}

func likelihood(s phrase.Speaker, v farm.Verdict) []string {
	var out []string
	if p, ok := v.Likelihood.Get(); ok {
		key := "reason.likelihood"
		if v.Cause == farm.GroundFrozen {
			key = "reason.likelihood_ground"
		}
		out = append(out, s.Say(key, phrase.Args{"share": percent(v.LossShare), "chance": s.Chance(p)}))
	}
	if p, ok := v.Regrowth.Get(); ok && p >= 0.5 && v.Organ != crop.Crown {
		out = append(out, s.Say("reason.regrowth", phrase.Args{"chance": s.Chance(p)}))
	}
	return out
}
