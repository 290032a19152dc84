package notice

import (
	"fmt"
	"strings"

	"winterstand/internal/message/phrase"
)

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

// TestWords is a test message to a recipient.
func TestWords(s phrase.Speaker, farmName, recipient string) Line {
	return plainLine(s, "test", phrase.Args{"farm": farmName, "name": recipient})
}
