package page

import (
	"errors"
	"fmt"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// deed does something small to a bed and comes back to its page; what the commands
// finds wrong is said there.
func (v *visit) deed(done string, do func(j judged) (commands.BedInput, error)) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	j, err := v.oneBed(id)
	if err != nil {
		return err
	}
	in, err := do(j)
	if err == nil {
		_, err = v.Commands.ChangeBed(v.ctx(), v.farm.ID, id, unit.Some(j.bed.Version), in)
	}
	var wrong *commands.Invalid
	var said *saidWrong
	switch {
	case errors.As(err, &said):
		return v.bedPage(said.text)
	case errors.As(err, &wrong):
		return v.bedPage(v.say("form.refused"))
	case err != nil:
		return err
	}
	return v.to(fmt.Sprintf("/beds/%d", id), done)
}

// saidWrong is an input that is wrong, already said in the reader's words.
type saidWrong struct{ text string }

func (e *saidWrong) Error() string { return e.text }

func (v *visit) field(name string) string { return strings.TrimSpace(v.r.PostForm.Get(name)) }

// amount reads a number of a small form.
func (v *visit) amount(name string, m measure) (float64, error) {
	x, ok := m.read(v.field(name))
	if !ok || x < 0 {
		return 0, &saidWrong{v.say("form.number")}
	}
	return x, nil
}

func coverBed(v *visit) error {
	return v.deed("cover", func(j judged) (commands.BedInput, error) {
		return commands.BedInput{Covers: commands.Set(recovered(j.bed.Covers, v.field("cover"), farm.DayOf(v.now, j.zone)))}, nil
	})
}

// recovered is a list of covers with another one on top from today: what lies
// there now comes off. A cover of today's that is taken off again was never on.
func recovered(covers []farm.Cover, kind string, today farm.Day) []farm.Cover {
	var out []farm.Cover
	for _, c := range covers {
		lies := c.On <= today && (c.Off == "" || today < c.Off)
		if lies && c.On == today {
			continue
		}
		if lies {
			c.Off = today
		}
		out = append(out, c)
	}
	if kind != "none" {
		out = append(out, farm.Cover{Kind: kind, On: today})
	}
	return out
}

func mulchBed(v *visit) error {
	return v.deed("mulch", func(judged) (commands.BedInput, error) {
		cm, err := v.amount("mulch", depthIn(v.speaker.Units))
		return commands.BedInput{MulchCm: commands.Set(cm)}, err
	})
}

// harvestBed takes a part off what stands, or says what is left where that was
// not known.
func harvestBed(v *visit) error {
	return v.deed("harvested", func(j judged) (commands.BedInput, error) {
		kg, err := v.amount("amount", massIn(v.speaker.Units))
		if err != nil {
			return commands.BedInput{}, err
		}
		if standing, ok := j.bed.StandingKg.Get(); ok {
			kg = max(0, standing-kg)
		}
		return commands.BedInput{StandingKg: commands.Set(kg)}, nil
	})
}

// clearBed ends a bed.
func clearBed(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Commands.ClearBed(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return err
	}
	return v.to(fmt.Sprintf("/beds/%d", id), "cleared")
}
