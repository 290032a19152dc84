package inbound

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/reply"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// answer applies a word to the beds that were named, else to those of the last
// message; it asks where that is not clear.
func (t *turn) answer(ctx context.Context, m reply.Meaning) (words, error) {
	chosen, question := t.choose(m)
	if question != nil {
		return question, nil
	}
	open := slices.DeleteFunc(slices.Clone(chosen), func(a asked) bool { return !a.standing() })
	if len(open) == 0 {
		return t.say("repeat", phrase.Args{"beds": bedNames(chosen)}), nil
	}
	if m.Kg.Known() && len(open) > 1 {
		return t.which(open), nil
	}
	return t.carryOut(ctx, open, m)
}

// choose gives the beds that are meant, or a question.
func (t *turn) choose(m reply.Meaning) ([]asked, words) {
	if len(t.asked) == 0 {
		return nil, t.say("nothing", nil)
	}
	if len(m.Beds) == 0 {
		return t.latest(), nil
	}
	var chosen []asked
	for _, same := range m.Beds {
		name := t.asked[same[0]].bed.Name
		if len(same) > 1 { // of several with one name, the one in the last message is meant
			same = slices.DeleteFunc(slices.Clone(same), func(at int) bool { return t.asked[at].message != t.asked[0].message })
		}
		if len(same) != 1 {
			return nil, t.say("twice", phrase.Args{"bed": name})
		}
		chosen = append(chosen, t.asked[same[0]])
	}
	return chosen, nil
}

func (t *turn) carryOut(ctx context.Context, beds []asked, m reply.Meaning) (words, error) {
	in := commands.AnswerInput{Answer: commands.Set(string(m.Word))}
	if kg, ok := m.Kg.Get(); ok {
		in.HarvestedKg = commands.Set(kg)
	}
	var done, before []asked
	var last commands.Answered
	covers := map[string][]asked{}
	for _, a := range beds {
		out, err := t.Commands.Within(t.w).Answer(ctx, a.notice.FarmID, a.notice.ID, a.person.to.ID, in)
		if err != nil {
			return nil, fmt.Errorf("answer notice %d: %w", a.notice.ID, err)
		}
		if out.Repeat {
			before = append(before, a)
			continue
		}
		a.bed = out.Bed.Else(a.bed)
		done, last = append(done, a), out
		if m.Word == reply.Covered {
			kind := a.bed.CoverOn(farm.DayOf(t.now, a.zone()))
			covers[kind] = append(covers[kind], a)
		}
	}
	var said words
	if len(done) > 0 {
		said = append(said, t.did(m, done, covers, last)...)
	}
	if len(before) > 0 {
		said = append(said, t.say("repeat", phrase.Args{"beds": bedNames(before)})...)
	}
	return said, nil
}

// did says what was done.
func (t *turn) did(m reply.Meaning, done []asked, covers map[string][]asked, last commands.Answered) words {
	s := t.speaker(done[0].person, done[0].zone())
	args := phrase.Args{"beds": bedNames(done), "bed": done[0].bed.Name}
	switch m.Word {
	case reply.Covered:
		return t.didCover(s, covers)
	case reply.LeaveIt:
		until := time.Time{}
		for _, a := range done {
			if q, ok := a.bed.QuietUntil.Get(); ok && q.After(until) {
				until = q
			}
		}
		args["until"] = s.When(until)
		return t.say("leave_it", args)
	case reply.Seen:
		return t.say("seen", args)
	}
	kg, some := m.Kg.Get()
	if !some || done[0].bed.ClearedAt.Known() {
		return t.say("harvested", args)
	}
	args["mass"] = s.Units.Mass(kg)
	if left, known := done[0].bed.StandingKg.Get(); known {
		args["left"] = s.Units.Mass(left)
		return t.say("harvested_some", args)
	}
	return t.say("harvested_some_unknown", args)
}

func (t *turn) didCover(s phrase.Speaker, covers map[string][]asked) (said words) {
	kinds := make([]string, 0, len(covers))
	for k := range covers {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	for _, k := range kinds {
		said = append(said, t.say("covered", phrase.Args{"beds": bedNames(covers[k]), "cover": s.Say("cover."+k, nil)})...)
	}
	return said
}

// which asks for the bed that a weight belongs to.
func (t *turn) which(beds []asked) words {
	s := t.speaker(beds[0].person, beds[0].person.zone)
	return t.say("which", phrase.Args{"bed": t.example(s, beds[0].bed.Name), "mass": exampleMass(s.Units), "beds": bedNames(beds)})
}

// example is a bed's name as a reply must say it: a mere number with a word for
// a bed before it.
func (t *turn) example(s phrase.Speaker, name string) string {
	if strings.Trim(name, "0123456789 ") != "" {
		return name
	}
	return s.Say("text.numbered", phrase.Args{"bed": name})
}

func exampleMass(u unit.System) string {
	if u == unit.US {
		return "90 LB"
	}
	return "40 KG"
}

func bedNames(beds []asked) string {
	names := make([]string, len(beds))
	for i, a := range beds {
		names[i] = a.bed.Name
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}
