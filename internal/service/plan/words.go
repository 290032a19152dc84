package plan

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"winterstand/internal/message/phrase"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/storage/lifting"
)

// BedName is what people call a bed of the plan.
func (p Plan) BedName(id int64) string {
	for _, b := range p.Beds {
		if b.BedID == id {
			return b.Name
		}
	}
	return p.names[id]
}

// BedTitle is a bed of the plan with its crop: "A5 (Carrot)".
func (p Plan) BedTitle(language string, id int64) string {
	name := p.BedName(id)
	for _, b := range p.Beds {
		if b.BedID == id {
			return name + " (" + titled(b.Titles, language, b.Crop) + ")"
		}
	}
	return name
}

func titled(titles map[string]string, language, key string) string {
	for _, l := range []string{language, phrase.Fallback} {
		if t := titles[l]; t != "" {
			return t
		}
	}
	return key
}

// RoomName is what people call a room of the plan.
func (p Plan) RoomName(id int64) string {
	for _, r := range p.Stores {
		if r.RoomID == id {
			return r.Name
		}
	}
	return ""
}

// trifle is work that is not worth a line of its own: three minutes. Own default.
const trifle = 0.05

// Busy are the windows in which something is lifted, without trifles.
func (p Plan) Busy() []lifting.Turn {
	var out []lifting.Turn
	for _, t := range p.Turns {
		lifts := t.Lifts
		t.Lifts = nil
		for _, l := range lifts {
			if l.PersonHours >= trifle {
				t.Lifts = append(t.Lifts, l)
			}
		}
		if len(t.Lifts) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// Text is the plan in plain lines, in the reader's words. Windows in which
// nothing is lifted are left out.
func (p Plan) Text(s phrase.Speaker) string {
	s.Zone = p.Zone
	p.Turns = p.Busy()
	w := writer{p, s}
	var lines []string
	for _, t := range p.Turns {
		lines = append(lines, w.turn(t)...)
	}
	return strings.Join(slices.Concat(lines, w.lost(), w.rooms(), w.taken(), p.Caveats(s)), "\n") + "\n"
}

// Caveats are what the plan took for want of an entry, and what it leaves out.
func (p Plan) Caveats(s phrase.Speaker) []string {
	var out []string
	add := func(key string, beds []string) {
		if len(beds) > 0 {
			out = append(out, s.Say("plan."+key, phrase.Args{"beds": strings.Join(beds, ", ")}))
		}
	}
	if !p.CrewGiven && len(p.Beds) > 0 {
		out = append(out, s.Say("plan.no_crew", nil))
	}
	add("default_rate", p.which(func(b PlannedBed) bool { return !b.RateGiven }))
	add("no_suiting_room", p.which(func(b PlannedBed) bool { return b.NoRoomKind }))
	add("left", p.named(p.Left))
	add("unseen", p.named(p.Unseen))
	return out
}

func (p Plan) which(is func(PlannedBed) bool) (names []string) {
	for _, b := range p.Beds {
		if is(b) {
			names = append(names, b.Name)
		}
	}
	return names
}

func (p Plan) named(ids []int64) (names []string) {
	for _, id := range ids {
		names = append(names, p.BedName(id))
	}
	return names
}

// Say is a note on a lot or a room in the reader's words. title gives a crop's
// name in the reader's language.
func Say(s phrase.Speaker, n keeping.Note, title func(crop string) string) string {
	text := s.Say("keeping."+string(n.Code), noted(s, n, title))
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

// noted fills the braces of a note's phrase. What the note does not know is left
// out, and its brace is seen: never a wrong number.
func noted(s phrase.Speaker, n keeping.Note, title func(crop string) string) phrase.Args {
	others := make([]string, len(n.Other))
	for i, o := range n.Other {
		others[i] = title(o)
	}
	args := phrase.Args{"others": strings.Join(others, ", "), "freezing": s.Temperature(0)}
	if n.Crop != "" {
		args["crop"] = title(n.Crop)
	}
	if t, ok := n.Temp.Get(); ok {
		args["temperature"] = s.Temperature(t)
	}
	if t, ok := n.Limit.Get(); ok {
		args["limit"] = s.Temperature(t)
	}
	if share, ok := n.Share.Get(); ok {
		args["share"] = fmt.Sprintf("%.0f %%", 100*share)
	}
	return args
}
