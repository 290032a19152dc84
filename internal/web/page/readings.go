package page

import (
	"fmt"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
)

var readingsScreen = Screen{Path: "/readings/new", Name: "page.new_reading", Change: true, Routes: func(s *Site, r chi.Router) {
	form(s, r, "/readings/new", newReading, addReading)
}}

// readingKinds are the quantities of the form: each has its unit, so that the
// number needs none of its own to be guessed.
var readingKinds = []string{farm.ReadAirMin, farm.ReadAir, farm.ReadSnowDepth, farm.ReadSoil}

func (v *visit) readingMeasure(quantity string) measure {
	if quantity == farm.ReadSnowDepth {
		return depthIn(v.speaker.Units)
	}
	return temperatureIn(v.speaker.Units)
}

func (v *visit) readingForm(p *places) *Sheet {
	s := v.speaker.Units
	var kinds []Choice
	for _, k := range readingKinds {
		kinds = append(kinds, Choice{k, v.say("quantity."+k) + ", " + v.readingMeasure(k).unit})
	}
	value := v.ask(numberBox, "value", "value").must().in(plainNumber)
	depth := v.ask(numberBox, "depth_cm", "depth").in(depthIn(s)).within("reading.depth_cm").or("right.depth")
	field := v.ask(choiceBox, "field_id", "field").must().from(p.choices())
	if len(p.order) > 0 {
		field.Value = fmt.Sprint(p.order[0])
	}
	return v.sheet("/readings/new", "enter", field,
		v.ask(choiceBox, "quantity", "quantity").must().from(kinds).with(farm.ReadAirMin), value, depth,
		v.ask(momentBox, "at", "at").must().or("right.moment"))
}

func newReading(v *visit) error {
	p, err := v.places()
	if err != nil {
		return err
	}
	if len(p.order) == 0 {
		return v.to("/fields/new", "field_first")
	}
	sheet := v.readingForm(p)
	if f := v.r.URL.Query().Get("field"); f != "" {
		sheet.box("field_id").Value = f
	}
	sheet.box("at").Value = v.now.In(v.fieldZone(p, sheet)).Format(momentLayout)
	return v.show("sheet", v.say("page.new_reading"), sheet)
}

// fieldZone is the zone of the field that was chosen.
func (v *visit) fieldZone(p *places, s *Sheet) *time.Location {
	var id int64
	_, _ = fmt.Sscan(s.box("field_id").Value, &id) // none: the farm's zone
	return p.zone(id)
}

func addReading(v *visit) error {
	p, err := v.places()
	if err != nil {
		return err
	}
	sheet := v.readingForm(p)
	for _, b := range sheet.Boxes {
		b.Value = "" // what was filled in for the visitor counts as given
	}
	read := func() commands.ReadingInput {
		value, quantity := sheet.box("value"), sheet.box("quantity").Value
		value.measure = v.readingMeasure(quantity)
		value.Unit, value.limit = value.measure.unit, "reading."+quantity
		if _, ok := commands.Limits[value.limit]; !ok {
			value.limit = ""
		}
		return commands.ReadingInput{FieldID: sheet.id("field_id"), At: sheet.moment("at", v.fieldZone(p, sheet)), Quantity: sheet.text("quantity"),
			DepthCm: sheet.number("depth_cm"), Value: sheet.number("value")}
	}
	return submit(sheet, v.say("page.new_reading"), read, func(in commands.ReadingInput) (string, error) {
		_, err := v.Commands.AddReadings(v.ctx(), v.farm.ID, []commands.ReadingInput{in})
		return "/readings/new?field=" + sheet.box("field_id").Value + "&done=reading_added", err
	})
}

var findingsScreen = Screen{Path: "/findings/new", Name: "page.new_finding", Change: true, Routes: func(s *Site, r chi.Router) {
	form(s, r, "/findings/new", newFinding, addFinding)
}}

func (v *visit) findingForm() (*Sheet, error) {
	beds, _, err := v.judgedBeds()
	if err != nil {
		return nil, err
	}
	choices := []Choice{{"", v.say("form.choose_one")}}
	for _, j := range beds {
		choices = append(choices, Choice{fmt.Sprint(j.bed.ID), j.bed.Name + ", " + v.cropName(j.bed.Crop, j.bed.Variety)})
	}
	if id := v.r.FormValue("bed"); id != "" || v.r.PostForm.Get("bed_id") != "" {
		choices = v.withBed(choices, id+v.r.PostForm.Get("bed_id"))
	}
	lost := v.ask(numberBox, "lost_fraction", "lost").must().in(percent).within("finding.lost_fraction")
	return v.sheet("/findings/new", "enter",
		v.ask(choiceBox, "bed_id", "bed").must().from(choices),
		v.ask(dayBox, "night", "night").must().or("right.night"), lost,
		v.ask(noteBox, "note", "note")), nil
}

// withBed adds a bed that has ended to the choices: people also find out later.
func (v *visit) withBed(choices []Choice, id string) []Choice {
	for _, c := range choices {
		if c.Value == id {
			return choices
		}
	}
	var n int64
	if _, err := fmt.Sscan(id, &n); err != nil {
		return choices
	}
	b, err := v.books().Bed(v.ctx(), v.farm.ID, n)
	if err != nil {
		return choices // not of this farm: no choice
	}
	return append(choices, Choice{fmt.Sprint(b.ID), b.Name + ", " + v.cropName(b.Crop, b.Variety)})
}

func newFinding(v *visit) error {
	sheet, err := v.findingForm()
	if err != nil {
		return err
	}
	sheet.box("bed_id").Value = v.r.URL.Query().Get("bed")
	sheet.box("night").Value = string(farm.DayOf(v.now, v.speaker.Zone).Add(-1))
	if night := v.r.URL.Query().Get("night"); night != "" {
		sheet.box("night").Value = night
	}
	return v.show("sheet", v.say("page.new_finding"), sheet)
}

func addFinding(v *visit) error {
	sheet, err := v.findingForm()
	if err != nil {
		return err
	}
	read := func() commands.FindingInput {
		return commands.FindingInput{BedID: sheet.id("bed_id"), Night: sheet.text("night"), LostFraction: sheet.number("lost_fraction"), Note: sheet.text("note")}
	}
	return submit(sheet, v.say("page.new_finding"), read, func(in commands.FindingInput) (string, error) {
		f, err := v.Commands.AddFinding(v.ctx(), v.farm.ID, in)
		return fmt.Sprintf("/beds/%d?done=finding_added", f.BedID), err
	})
}
