package notice

import (
	"cmp"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"winterstand/internal/crop"
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

// smsHeadRoom is where bed, crop and deadline must have been said.
const smsHeadRoom = 100

// smsHead is the first sentence of a text. Where names are so long that the
// deadline would come late, the variety goes first, then the end of the names.
func smsHead(s phrase.Speaker, f Facts, key string) string {
	s.Plain = true
	say := func() string { return s.Say("sms."+smsKey(key), bedArgs(s, f)) }
	if long := runes(say()) - smsHeadRoom; long > 0 && f.Variety != "" {
		f.Variety = ""
	}
	if long := runes(say()) - smsHeadRoom; long > 0 {
		crop := CropName(s, f)
		f.Titles = map[string]string{s.Language: clipped(crop, max(leastName, runes(crop)-long))}
	}
	if long := runes(say()) - smsHeadRoom; long > 0 {
		f.Bed = clipped(f.Bed, max(leastName, runes(f.Bed)-long))
	}
	return say()
}

const leastName = 12 // characters by which a bed or a crop can still be told

func runes(s string) int { return utf8.RuneCountInString(s) }

// clipped is the start of a name in so many characters.
func clipped(name string, most int) string {
	if runes(name) <= most {
		return name
	}
	return strings.TrimSpace(string([]rune(name)[:most-1])) + "."
}

func smsKey(key string) string {
	switch key {
	case "moved_too_late":
		return "too_late"
	case "last_call_eased":
		return "last_call"
	case "stand_down_plain":
		return "stand_down"
	}
	return key
}

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

func alerts(s phrase.Speaker, as []Alert) []string {
	var out []string
	for _, a := range as {
		out = append(out, s.Say("body.alert", alertArgs(s, a)))
	}
	return out
}

// smsAlerts are the events alone, where there is room left.
func smsAlerts(s phrase.Speaker, as []Alert) []string {
	s.Plain = true
	var out []string
	for _, a := range as {
		out = append(out, s.Say("sms.alert", alertArgs(s, a)))
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

func smsForecast(s phrase.Speaker, b farm.Basis, now time.Time) string {
	return s.Say("sms.forecast", phrase.Args{"age": s.Ago(now.Sub(b.Issued)), "source": strings.ToUpper(b.Source)})
}

func smsWhy(s phrase.Speaker, v farm.Verdict) []string {
	s.Plain = true
	args := reasonArgs(s, v)
	p, ok := v.Likelihood.Get()
	if !ok || args["low"] == "" || v.Night == "" {
		return nil
	}
	args["chance"] = s.Chance(p)
	args["night"] = s.Date(v.Night.Noon(s.Zone))
	key := "sms.why"
	if v.Cause == farm.GroundFrozen {
		key = "sms.why_ground"
	}
	out := []string{s.Say(key, args)}
	for i, h := range v.Helps {
		if i == 1 {
			break
		}
		out = append(out, s.Say("sms.help", phrase.Args{"cover": HelpName(s, h), "chance": s.Chance(h.Likelihood)}))
	}
	return out
}

func sightWords(s phrase.Speaker, f Facts) Line {
	line := sightLine(s, f)
	s.Plain = true
	line.SMS = sightLine(s, f).SMS
	return line
}

func sightLine(s phrase.Speaker, f Facts) Line {
	args := phrase.Args{"field": f.Field, "since": "", "reason": "", "issued": "", "source": ""}
	if g := f.Sight; g != nil {
		args["since"] = s.When(g.Since)
		args["reason"] = s.Say("sight."+orNone(string(g.Reason)), nil)
		args["source"] = sourceName(s, g.Source)
		if t, ok := g.Issued.Get(); ok {
			args["issued"] = s.When(t)
		}
	}
	key := strings.ReplaceAll(f.Kind, "-", "_")
	line := Line{Subject: s.Say("subject."+key, args), Body: []string{s.Say("body."+key, args)}, SMS: []string{s.Say("sms."+key, args)}}
	if f.Kind == Blind && args["issued"] != "" {
		line.Body = append(line.Body, s.Say("body.blind_issued", args))
	}
	if f.Sight != nil && len(f.Sight.Missing) > 0 {
		line.Body = append(line.Body, s.Say("body.blind_missing", phrase.Args{"missing": Missing(s, f.Sight.Missing)}))
	}
	if f.Sight != nil && len(f.Sight.Trouble) > 0 {
		line.Body = append(line.Body, s.Say("body.blind_trouble", phrase.Args{"trouble": strings.Join(Troubles(s, f.Sight.Trouble), "; ")}))
	}
	line.Body = append(line.Body, alerts(s, f.Alerts)...)
	return line.whole()
}

func orNone(reason string) string {
	if reason == "" {
		return "none"
	}
	return reason
}

func storeWords(s phrase.Speaker, f Facts) Line {
	args := phrase.Args{"crop": CropName(s, f)}
	if l := f.Lot; l != nil {
		args["kg"], args["room"], args["date"], args["early"] = s.Units.Mass(l.Kg), l.Room, s.Date(l.UseBy), s.Date(l.Early)
		args["clock"] = s.Say("clock."+l.Clock, nil)
	}
	if r := f.Room; r != nil {
		args["room"], args["kg"], args["capacity"] = r.Name, s.Units.Mass(r.Kg), s.Units.Mass(r.CapacityKg)
	}
	key := strings.ReplaceAll(f.Kind, "-", "_")
	if f.Lot != nil && f.Lot.Clock == Cured {
		key += "_cured"
	}
	return plainLine(s, key, args)
}

func undeliveredWords(s phrase.Speaker, f Facts) Line {
	args := phrase.Args{"farm": f.Farm}
	if u := f.Unreached; u != nil {
		args["name"], args["channel"], args["error"] = u.Name, s.Say("by_channel."+u.Channel, nil), u.Error
		if u.Alone {
			return plainLine(s, "unheard", args)
		}
	}
	return plainLine(s, "undelivered", args)
}

func watchingWords(s phrase.Speaker, f Facts) Line {
	args := phrase.Args{"farm": f.Farm}
	w := f.Watching
	if w == nil {
		return plainLine(s, "test", args)
	}
	args["n"], args["open"] = fmt.Sprint(w.Beds), fmt.Sprint(w.Open)
	line := plainLine(s, "still_watching", args)
	args["unseen"] = fmt.Sprint(w.Unseen)
	t, ok := w.Issued.Get()
	switch {
	case !ok:
		line.Body[0] = s.Say("body.still_watching_blind", args)
	case w.Unseen > 0:
		line.Body[0] = s.Say("body.still_watching_unseen", args)
	default:
		args["issued"] = s.When(t)
		line.Body[0] = s.Say("body.still_watching", args)
	}
	if t, ok := w.NextAt.Get(); ok {
		line.Body = append(line.Body, s.Say("body.still_watching_next", phrase.Args{"bed": w.Next, "deadline": s.When(t)}))
	}
	return line.whole()
}

func plainLine(s phrase.Speaker, key string, args phrase.Args) Line {
	return Line{Subject: s.Say("subject."+key, args), Body: []string{s.Say("body."+key, args)}, SMS: []string{s.Say("sms."+key, args)}}.whole()
}

// whole: every paragraph is the notice's own.
func (l Line) whole() Line {
	l.Own = len(l.Body)
	return l
}

// TestWords is a test message to a recipient.
func TestWords(s phrase.Speaker, farmName, recipient string) Line {
	return plainLine(s, "test", phrase.Args{"farm": farmName, "name": recipient})
}

// Thread is the stable name of the event a notice belongs to, for References.
func Thread(subject string, night farm.Day) string {
	return strings.ReplaceAll(subject, ":", "-") + "-" + string(night)
}
