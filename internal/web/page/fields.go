package page

import (
	"fmt"
	"slices"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

var fieldsScreen = Screen{Path: "/fields", Name: "page.fields", Front: true, Routes: func(s *Site, r chi.Router) {
	r.Get("/fields", s.signed(showFields))
	form(s, r, "/fields/new", newField, addField)
	form(s, r, "/fields/{id}/change", changeFieldForm, changeField)
	r.Post("/fields/{id}/remove", s.change(removeField))
}}

// fieldLine is a field with its beds.
type fieldLine struct {
	ID              int64
	Name            string
	Facts           []Fact
	Warnings        []string
	Beds, Cleared   []bedLine
	Unplaced, Empty bool
}

type bedLine struct {
	ID               int64
	Name, Crop, Head string
}

func showFields(v *visit) error {
	beds, p, err := v.judgedBeds()
	if err != nil {
		return err
	}
	byField := map[int64]*fieldLine{}
	var out []*fieldLine
	for _, id := range p.order {
		l := v.fieldLine(p, id)
		byField[id], out = l, append(out, l)
	}
	for _, j := range beds {
		if l := byField[j.bed.FieldID]; l != nil {
			l.Beds = append(l.Beds, v.bedLine(j))
		}
	}
	for _, l := range out {
		l.Empty = len(l.Beds) == 0
	}
	return v.show("fields", v.say("page.fields"), out)
}

func (v *visit) bedLine(j judged) bedLine {
	head := v.say("state.unknown")
	if !j.unseen() {
		head = v.headline(j, j.verdict)
	}
	return bedLine{j.bed.ID, j.bed.Name, v.cropName(j.bed.Crop, j.bed.Variety), head}
}

func (v *visit) fieldLine(p *places, id int64) *fieldLine {
	f, s := p.fields[id], v.speaker.Units
	l := &fieldLine{ID: id, Name: f.Name, Unplaced: f.CellID == 0, Warnings: p.cells[f.CellID].Warnings}
	l.Facts = []Fact{
		{v.say("label.place"), fmt.Sprintf("%.4f, %.4f", f.Latitude, f.Longitude)},
		{v.say("label.soil"), v.say("soil." + p.at[id].Soil)},
		{v.say("label.time_zone"), p.zone(id).String()},
	}
	if p.at[id].ByLongitude {
		l.Warnings = append(slices.Clone(l.Warnings), v.say("fields.at_sea"))
	}
	if m, ok := f.Elevation.Get(); ok {
		h := heightIn(s)
		l.Facts = append(l.Facts, Fact{v.say("label.elevation"), h.write(m) + " " + h.unit})
	}
	if f.LowSpot > 0 {
		l.Facts = append(l.Facts, Fact{v.say("label.low_spot"), s.Difference(f.LowSpot)})
	}
	return l
}

func (v *visit) fieldForm(f farm.Field) *Sheet {
	s := v.speaker.Units
	degrees := measure{unit: "°", factor: 1, digits: 6}
	boxes := []*Box{
		v.ask(textBox, "name", "field_name").must().with(f.Name),
		v.ask(numberBox, "latitude", "latitude").must().in(degrees).within("field.latitude"),
		v.ask(numberBox, "longitude", "longitude").must().in(degrees).within("field.longitude"),
		v.ask(numberBox, "elevation_m", "elevation").in(heightIn(s)).within("field.elevation_m").withNumber(f.Elevation),
		v.ask(choiceBox, "soil", "soil").from(v.choices("field.soil", "soil", "")).with(f.Soil),
		v.ask(numberBox, "low_spot_k", "low_spot").in(differenceIn(s)).within("field.low_spot_k"),
		v.ask(textBox, "time_zone", "time_zone").with(f.TimeZone),
	}
	if f.ID == 0 {
		return v.sheet("/fields/new", "add", boxes...)
	}
	boxes[1].Value, boxes[2].Value = degrees.write(f.Latitude), degrees.write(f.Longitude)
	boxes[5].Value = boxes[5].measure.write(float64(f.LowSpot))
	sheet := v.sheet(fmt.Sprintf("/fields/%d/change", f.ID), "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(f.Version), "/fields"
	return sheet
}

func (s *Sheet) field() commands.FieldInput {
	return commands.FieldInput{Name: s.text("name"), Latitude: s.number("latitude"), Longitude: s.number("longitude"),
		Elevation: s.number("elevation_m"), Soil: s.text("soil"), LowSpot: s.number("low_spot_k"), TimeZone: s.text("time_zone")}
}

func newField(v *visit) error {
	sheet := v.fieldForm(farm.Field{Soil: farm.DefaultSoil})
	return v.show("sheet", v.say("page.new_field"), sheet)
}

func addField(v *visit) error {
	sheet := v.fieldForm(farm.Field{Soil: farm.DefaultSoil})
	return submit(sheet, v.say("page.new_field"), sheet.field, func(in commands.FieldInput) (string, error) {
		f, err := v.Commands.AddField(v.ctx(), v.farm.ID, in)
		return fmt.Sprintf("/beds/new?field=%d&done=field_added", f.ID), err
	})
}

func (v *visit) fieldToChange() (store.Field, error) {
	id, err := v.id()
	if err != nil {
		return store.Field{}, err
	}
	return v.books().Field(v.ctx(), v.farm.ID, id)
}

func changeFieldForm(v *visit) error {
	f, err := v.fieldToChange()
	if err != nil {
		return err
	}
	return v.show("sheet", v.say("page.change", "what", f.Name), v.fieldForm(f.Field))
}

func changeField(v *visit) error {
	f, err := v.fieldToChange()
	if err != nil {
		return err
	}
	sheet := v.fieldForm(f.Field)
	return submit(sheet, v.say("page.change", "what", f.Name), sheet.field, func(in commands.FieldInput) (string, error) {
		_, err := v.Commands.ChangeField(v.ctx(), v.farm.ID, f.ID, sheet.seen(), in)
		return "/fields?done=saved", err
	})
}

func removeField(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Commands.RemoveField(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return err
	}
	return v.to("/fields", "removed")
}
