package page

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
)

// judged is a bed with its verdict as it may be shown now.
type judged struct {
	bed     farm.Bed
	field   store.Field
	zone    *time.Location
	verdict farm.Verdict
}

// unseen: the bed cannot be judged now.
func (j judged) unseen() bool { return j.verdict.State == farm.Unknown }

func (v *visit) judge(b farm.Bed, f store.Field, zone *time.Location, kept store.Verdict) judged {
	return judged{bed: b, field: f, zone: zone, verdict: kept.Kept.At(v.now, v.farm)}
}

// unseenWhy says why a bed cannot be seen.
func (v *visit) unseenWhy(j judged) string { return notice.Unseen(v.at(j.zone), j.verdict) }

// why is the reason in a few words: the night is named beside it.
func (v *visit) why(j judged) string {
	s, d := v.at(j.zone), j.verdict
	if d.Cause == farm.GroundFrozen {
		return v.say("due.ground")
	}
	low, okLow := d.TissueLow.Get()
	stands, okStands := d.ToleranceThen.Get()
	if !okLow || !okStands {
		return notice.ReasonText(s, d)
	}
	return v.say("due.why", "organ", v.say("organ."+string(d.Organ)), "low", s.Temperature(low), "stands", s.Temperature(stands))
}

// chance of loss in words, with what is lost.
func (v *visit) chance(d farm.Verdict) string {
	p, ok := d.Likelihood.Get()
	if !ok {
		return ""
	}
	return v.say("due.chance", "chance", v.speaker.Chance(p), "share", percentOf(d.LossShare))
}

// capital begins a sentence.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

func percentOf(share float64) string { return strconv.Itoa(int(math.Round(share*100))) + " %" }

// Left is a time that is left, set large.
type Left struct{ Number, Unit string }

func (v *visit) left(d time.Duration) Left {
	switch {
	case d <= 0:
		return Left{"0", v.say("due.h")}
	case d < 2*time.Hour:
		return Left{strconv.Itoa(int(d.Minutes())), v.say("due.min")}
	}
	return Left{strconv.Itoa(int(d.Hours())), v.say("due.h")}
}

// before cuts windows at the deadline and at now.
func before(windows []farm.Window, now, by time.Time) []farm.Window {
	var out []farm.Window
	for _, w := range windows {
		if w.Start.Before(now) {
			w.Start = now
		}
		if w.End.After(by) {
			w.End = by
		}
		if w.Start.Before(w.End) {
			out = append(out, w)
		}
	}
	return out
}

func sumOf(windows []farm.Window) time.Duration {
	var d time.Duration
	for _, w := range windows {
		d += w.End.Sub(w.Start)
	}
	return d
}

// clock leaves the zone out, for spans that name it once.
func clock(s phrase.Speaker, t time.Time) string {
	c := s.Clock(t)
	if i := strings.LastIndexByte(c, ' '); i > 0 {
		return c[:i]
	}
	return c
}

// span is "Thu 19 Nov 10:00 am–4:30 pm"; today's has no date.
func (v *visit) span(s phrase.Speaker, w farm.Window) string {
	day := s.Date(w.Start)
	switch farm.DayOf(w.Start, s.Zone) {
	case farm.DayOf(v.now, s.Zone):
		day = v.say("due.today")
	case farm.DayOf(v.now, s.Zone).Add(1):
		day = v.say("due.tomorrow")
	}
	return day + " " + clock(s, w.Start) + "–" + clock(s, w.End)
}

func (v *visit) spans(s phrase.Speaker, windows []farm.Window) []string {
	var out []string
	for _, w := range windows {
		out = append(out, v.span(s, w))
	}
	return out
}
