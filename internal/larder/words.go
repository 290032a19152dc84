package larder

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"winterstand/internal/keeping"
	"winterstand/internal/lifting"
	"winterstand/internal/phrase"
)

// reader is who a plan is written for.
func (p Plan) reader(s phrase.Speaker) lifting.Reader {
	return lifting.Reader{
		Units: s.Units, Currency: p.Currency, When: s.When, Bed: p.BedName, Room: p.roomName,
		Say: func(key string, args map[string]string) string { return s.Say("plan."+key, args) },
	}
}

// BedName is what people call a bed of the plan.
func (p Plan) BedName(id int64) string {
	for _, b := range p.Beds {
		if b.BedID == id {
			return b.Name
		}
	}
	return p.names[id]
}

func (p Plan) roomName(id int64) string {
	for _, r := range p.Stores {
		if r.RoomID == id {
			return r.Name
		}
	}
	return ""
}

// Text is the plan in plain lines, in the reader's words. Windows in which
// nothing is lifted are left out.
func (p Plan) Text(s phrase.Speaker) string {
	busy := p.Result
	busy.Turns = nil
	for _, t := range p.Turns {
		if len(t.Lifts) > 0 {
			busy.Turns = append(busy.Turns, t)
		}
	}
	return busy.Text(p.reader(s)) + joined(p.Caveats(s))
}

func joined(lines []string) string {
	if len(lines) == 0 {
		return ""
	}
	return strings.Join(lines, "\n") + "\n"
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
	text := s.Say("keeping."+string(n.Code), n.Args(s.Units, title))
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}
