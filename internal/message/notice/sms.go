package notice

import (
	"strings"
	"time"
	"unicode/utf8"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
)

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

// smsAlerts are the events alone, where there is room left.
func smsAlerts(s phrase.Speaker, as []Alert) []string {
	s.Plain = true
	var out []string
	for _, a := range as {
		out = append(out, s.Say("sms.alert", alertArgs(s, a)))
	}
	return out
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
