package page

import (
	"fmt"
	"slices"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// bedForm is the form of a bed: a new one, or one that is changed.
func (v *visit) bedForm(p *places, b farm.Bed, fresh bool) *Sheet {
	s, today := v.speaker.Units, p.today(b.FieldID)
	boxes := []*Box{}
	if fresh {
		boxes = append(boxes, v.ask(choiceBox, "field_id", "field").must().from(p.choices()))
	}
	purpose := v.ask(choiceBox, "purpose", "purpose").from(v.choices("bed.purpose", "purpose", "")).with(string(b.Purpose))
	sown := v.ask(dayBox, "sown_on", "sown_on").or("right.sown_on").with(string(b.SownOn.Else("")))
	boxes = append(boxes,
		v.ask(textBox, "name", "bed_name").must().with(b.Name),
		v.ask(choiceBox, "crop", "crop").must().from(v.crops()).with(b.Crop),
		v.ask(textBox, "variety", "variety").with(b.Variety),
		purpose, sown,
		v.ask(numberBox, "standing_kg", "standing").in(massIn(s)).within("bed.standing_kg").withNumber(b.StandingKg),
		v.ask(numberBox, "mulch_cm", "mulch").in(depthIn(s)).within("bed.mulch_cm").with(mulchShown(b, today, s)),
	)
	boxes = append(boxes, v.coverBoxes(b)...)
	shift := v.ask(numberBox, "tolerance_shift_k", "tolerance_shift").in(differenceIn(s)).within("bed.tolerance_shift_k")
	if k, ok := b.ToleranceSet.Get(); ok {
		shift.Value = shift.measure.write(float64(k))
	}
	boxes = append(boxes, v.head("bed_more"),
		v.ask(numberBox, "price_per_kg", "price").in(pricePerMassIn(s, v.farm.Currency)).within("bed.price_per_kg").withNumber(b.PricePerKg),
		v.ask(numberBox, "lift_kg_per_hour", "lift").in(massRateIn(s, v.say("form.an_hour"))).within("bed.lift_kg_per_hour").withNumber(b.LiftKgPerHour),
		v.ask(numberBox, "cost_loss", "cost_loss").in(percent).within("bed.cost_loss").withNumber(b.CostLossSet),
		shift,
	)
	if fresh {
		return v.sheet("/beds/new", "add", boxes...)
	}
	sheet := v.sheet(fmt.Sprintf("/beds/%d/change", b.ID), "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(b.Version), fmt.Sprintf("/beds/%d", b.ID)
	return sheet
}

func mulchShown(b farm.Bed, today farm.Day, s unit.System) string {
	if cm := b.MulchOn(today); cm > 0 {
		return depthIn(s).write(cm)
	}
	return ""
}

func (v *visit) head(name string) *Box { return &Box{Kind: headBox, Label: v.say("form." + name)} }

// crops to choose from, by what people call them.
func (v *visit) crops() []Choice {
	var out []Choice
	for _, c := range v.Commands.Catalogue.All() {
		out = append(out, Choice{c.Name, c.Title(v.speaker.Language)})
	}
	slices.SortFunc(out, func(a, b Choice) int { return compareFold(a.Label, b.Label) })
	return append([]Choice{{"", v.say("form.choose_one")}}, out...)
}

// coverBoxes are a row for each cover, and an empty one.
func (v *visit) coverBoxes(b farm.Bed) []*Box {
	out := []*Box{v.head("covers")}
	kinds := v.choices("cover.kind", "cover", "form.no_entry")
	for i := range len(b.Covers) + 1 {
		var c farm.Cover
		if i < len(b.Covers) {
			c = b.Covers[i]
		}
		at := func(member string) string { return fmt.Sprintf("covers[%d].%s", i, member) }
		kind := v.ask(choiceBox, at("kind"), "cover_kind").from(kinds).with(c.Kind)
		on := v.ask(dayBox, at("on"), "cover_on").or("right.day").with(string(c.On))
		off := v.ask(dayBox, at("off"), "cover_off").or("right.cover_off").with(string(c.Off))
		out = append(out, row(i, kind, on, off))
	}
	return out
}

// covers as they were given; rows without a kind are left out. Problems speak of
// the rows that were filled in, so the empty one has to be the last.
func (s *Sheet) covers() commands.Optional[[]farm.Cover] {
	var out []farm.Cover
	changed := false
	for i := 0; ; i++ {
		kind := s.box(fmt.Sprintf("covers[%d].kind", i))
		if kind == nil {
			break
		}
		on, off := s.box(fmt.Sprintf("covers[%d].on", i)), s.box(fmt.Sprintf("covers[%d].off", i))
		changed = changed || s.touched(kind) || s.touched(on) || s.touched(off)
		if kind.Value != "" {
			out = append(out, farm.Cover{Kind: kind.Value, On: farm.Day(on.Value), Off: farm.Day(off.Value)})
		}
	}
	if !changed {
		return commands.Optional[[]farm.Cover]{}
	}
	return commands.Set(out)
}

func (s *Sheet) bed() commands.BedInput {
	return commands.BedInput{
		FieldID: s.id("field_id"), Name: s.text("name"), Crop: s.text("crop"), Variety: s.text("variety"), Purpose: s.text("purpose"),
		SownOn: s.text("sown_on"), StandingKg: s.number("standing_kg"), PricePerKg: s.number("price_per_kg"),
		LiftKgPerHour: s.number("lift_kg_per_hour"), CostLoss: s.number("cost_loss"), Covers: s.covers(),
		MulchCm: s.number("mulch_cm"), ToleranceShift: s.number("tolerance_shift_k"),
	}
}

func newBed(v *visit) error {
	p, err := v.places()
	if err != nil {
		return err
	}
	if len(p.order) == 0 {
		return v.to("/fields/new", "field_first")
	}
	sheet := v.bedForm(p, farm.Bed{Purpose: farm.Fresh}, true)
	if f := v.r.URL.Query().Get("field"); f != "" {
		sheet.box("field_id").Value = f
	}
	return v.show("sheet", v.say("page.new_bed"), sheet)
}

func addBed(v *visit) error {
	p, err := v.places()
	if err != nil {
		return err
	}
	sheet := v.bedForm(p, farm.Bed{}, true)
	return submit(sheet, v.say("page.new_bed"), sheet.bed, func(in commands.BedInput) (string, error) {
		b, err := v.Commands.AddBed(v.ctx(), v.farm.ID, in)
		return fmt.Sprintf("/beds/%d?done=bed_added", b.ID), err
	})
}

func changeBedForm(v *visit) error {
	b, p, err := v.bedToChange()
	if err != nil {
		return err
	}
	return v.show("sheet", v.say("page.change", "what", b.Name), v.bedForm(p, b, false))
}

func changeBed(v *visit) error {
	b, p, err := v.bedToChange()
	if err != nil {
		return err
	}
	sheet := v.bedForm(p, b, false)
	return submit(sheet, v.say("page.change", "what", b.Name), sheet.bed, func(in commands.BedInput) (string, error) {
		_, err := v.Commands.ChangeBed(v.ctx(), v.farm.ID, b.ID, sheet.seen(), in)
		return fmt.Sprintf("/beds/%d?done=saved", b.ID), err
	})
}

func (v *visit) bedToChange() (farm.Bed, *places, error) {
	id, err := v.id()
	if err != nil {
		return farm.Bed{}, nil, err
	}
	b, err := v.books().Bed(v.ctx(), v.farm.ID, id)
	if err != nil {
		return b, nil, err
	}
	p, err := v.places()
	return b, p, err
}
