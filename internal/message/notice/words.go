package notice

import (
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// Links of a message; each is signed and acts only on POST.
type Links struct {
	Answer      string
	Unsubscribe string
	Replies     bool // a text message can be answered by another
}

// Line is one notice in the words of one reader.
type Line struct {
	Subject string
	Body    []string // paragraphs, the most important first
	Own     int      // of them its own; what follows may be said once for several notices
	SMS     []string // sentences, the most important first; fits with gsm7.Fit
}

// Words says a notice to a reader.
func Words(s phrase.Speaker, f Facts, now time.Time) Line {
	switch f.Kind {
	case HarvestBefore, Moved, LastCall, StandDown, Inspect:
		return bedWords(s, f, now)
	case Blind, SightAgain:
		return sightWords(s, f)
	case UseBy, RoomFull:
		return storeWords(s, f)
	case Undelivered:
		return undeliveredWords(s, f)
	}
	return watchingWords(s, f)
}

// variant is the phrase a bed notice uses: its kind, or what became of it.
func variant(f Facts) string {
	v := f.Verdict
	switch {
	case v == nil:
	case f.Kind == HarvestBefore && v.State == farm.TooLate:
		return "too_late"
	case f.Kind == Moved && v.State == farm.TooLate:
		return "moved_too_late"
	case f.Kind == Moved && !f.Before.Known():
		return "moved_opened"
	case f.Kind == LastCall && eased(f):
		return "last_call_eased"
	case f.Kind == StandDown && f.Passed:
		return "stand_down_passed"
	case f.Kind == StandDown && !f.Before.Known():
		return "stand_down_plain"
	}
	return strings.ReplaceAll(f.Kind, "-", "_")
}

// Deadline is the one that a notice about a bed speaks of: that of the newest
// forecast, or of a last call after which it has eased, the one that was told.
func Deadline(f Facts) unit.Maybe[time.Time] {
	switch {
	case f.Verdict == nil:
		return unit.None[time.Time]()
	case f.Kind == LastCall && eased(f):
		return f.Before
	}
	return f.Verdict.HarvestBefore
}

// eased: the newest forecast sees no deadline, or a later one than was told.
func eased(f Facts) bool {
	by, ok := f.Verdict.HarvestBefore.Get()
	was, told := f.Before.Get()
	return !ok || told && by.Sub(was) >= time.Duration(f.MovedStepHours*float64(time.Hour)) && by.After(was)
}

func bedArgs(s phrase.Speaker, f Facts) phrase.Args {
	args := phrase.Args{"bed": f.Bed, "crop": CropName(s, f), "field": f.Field, "farm": f.Farm}
	if f.Night != "" {
		args["night"] = s.Night(f.Night)
	}
	if v := f.Verdict; v != nil {
		if by, ok := v.HarvestBefore.Get(); ok {
			args["deadline"] = s.When(by)
		}
		if w, ok := v.LastWindow.Get(); ok {
			args["from"], args["to"] = s.When(w.Start), s.Clock(w.End)
		}
	}
	if b, ok := f.Before.Get(); ok {
		args["before"] = s.When(b)
	}
	if _, ok := args["deadline"]; !ok || variant(f) == "last_call_eased" {
		args["deadline"] = args["before"]
	}
	return args
}

// CropName is the crop and variety in the reader's language.
func CropName(s phrase.Speaker, f Facts) string {
	name := cropTitle(s, f)
	if f.Variety != "" {
		name += ", " + f.Variety
	}
	return name
}

// cropTitle is the crop alone.
func cropTitle(s phrase.Speaker, f Facts) string {
	for _, language := range []string{s.Language, phrase.Fallback} {
		if title := f.Titles[language]; title != "" {
			return title
		}
	}
	return f.Crop
}

func bedWords(s phrase.Speaker, f Facts, now time.Time) Line {
	args, key := bedArgs(s, f), variant(f)
	line := Line{Subject: s.Say("subject."+subjectKey(f, key), args), Body: []string{s.Say("body."+key, args)}, SMS: []string{smsHead(s, f, key)}}
	if f.Verdict == nil {
		line.Own = len(line.Body)
		return line
	}
	v := *f.Verdict
	switch {
	case f.Kind == Inspect:
		line.Body = append(line.Body, soundLeft(s, v)...)
	case f.Kind == StandDown:
		line.Body = append(line.Body, ReasonText(s, v))
	case key == "last_call_eased":
		line.Body = append(append(line.Body, ReasonText(s, v)), likelihood(s, v)...)
	default:
		line.Body = append(append(append(line.Body, ReasonText(s, v)), likelihood(s, v)...), helps(s, v)...)
		line.SMS = append(line.SMS, smsWhy(s, v)...)
	}
	if f.Kind != Inspect {
		line.Body = append(line.Body, windows(s, v)...)
	}
	line.Own = len(line.Body)
	line.Body = append(line.Body, alerts(s, f.Alerts)...)
	if !v.Forecast.Issued.IsZero() {
		line.Body = append(line.Body, ForecastLine(s, v.Forecast, now))
		line.SMS = append(line.SMS, smsForecast(s, v.Forecast, now))
	}
	line.SMS = append(line.SMS, smsAlerts(s, f.Alerts)...)
	return line
}

// subjectKey is the phrase of the subject.
func subjectKey(f Facts, key string) string {
	switch key {
	case "moved":
		by, ok := f.Verdict.HarvestBefore.Get()
		was, had := f.Before.Get()
		if ok && had && by.Before(was) {
			return "moved_earlier"
		}
		return "moved_later"
	case "stand_down_plain":
		return "stand_down"
	case "last_call_eased":
		return "last_call"
	}
	return key
}

func alerts(s phrase.Speaker, as []Alert) []string {
	var out []string
	for _, a := range as {
		out = append(out, s.Say("body.alert", alertArgs(s, a)))
	}
	return out
}

func alertArgs(s phrase.Speaker, a Alert) phrase.Args {
	until := ""
	if t, ok := a.Ends.Get(); ok {
		until = s.Say("body.alert_until", phrase.Args{"when": s.When(t)})
	}
	return phrase.Args{"event": a.Event, "until": until, "sender": a.Sender}
}

// ForecastLine says which forecast it rests on and how old that is.
func ForecastLine(s phrase.Speaker, b farm.Basis, now time.Time) string {
	return s.Say("body.forecast", phrase.Args{
		"source": sourceName(s, b.Source), "issued": s.When(b.Issued), "age": s.Ago(now.Sub(b.Issued))})
}

// sourceName is what people call a source; one without a name is called as it is.
func sourceName(s phrase.Speaker, source string) string {
	if key := "source." + source; s.Book.Has(key) {
		return s.Say(key, nil)
	}
	return source
}

// whole: every paragraph is the notice's own.
func (l Line) whole() Line {
	l.Own = len(l.Body)
	return l
}

// Thread is the stable name of the event a notice belongs to, for References.
func Thread(subject string, night farm.Day) string {
	return strings.ReplaceAll(subject, ":", "-") + "-" + string(night)
}
