package page

import (
	"fmt"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

var lotsScreen = Screen{Path: "/lots", Name: "page.lots", Routes: func(s *Site, r chi.Router) {
	r.Get("/lots", s.signed(showLots))
	form(s, r, "/lots/new", newLot, addLot)
	form(s, r, "/lots/{id}/change", changeLotForm, changeLot)
	r.Post("/lots/{id}/end", s.change(endLot))
}}

type lotLine struct {
	ID                          int64
	Crop, Room, Mass, Harvested string
	Container, Cured            string
}

type lotsPage struct {
	Lots   []lotLine
	Rooms  bool
	Totals string
}

func showLots(v *visit) error {
	lots, err := v.books().Lots(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return err
	}
	rooms, err := v.books().Rooms(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return err
	}
	names, d := map[int64]string{}, lotsPage{Rooms: len(rooms) > 0}
	for _, r := range rooms {
		names[r.ID] = r.Name
	}
	sum := 0.0
	for _, l := range lots {
		sum += l.Kg
		line := lotLine{ID: l.ID, Crop: v.cropName(l.Crop, l.Variety), Room: names[l.RoomID], Mass: v.speaker.Units.Mass(l.Kg),
			Harvested: v.speaker.Date(l.HarvestedAt), Container: v.say("container." + l.Container)}
		if t, ok := l.CuredAt.Get(); ok {
			line.Cured = v.speaker.Date(t)
		}
		d.Lots = append(d.Lots, line)
	}
	d.Totals = v.speaker.Units.Mass(sum)
	return v.show("lots", v.say("page.lots"), d)
}

func (v *visit) lotForm(l farm.Lot) (*Sheet, error) {
	rooms, err := v.books().Rooms(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return nil, err
	}
	var choices []Choice
	for _, r := range rooms {
		choices = append(choices, Choice{fmt.Sprint(r.ID), r.Name})
	}
	mass := v.ask(numberBox, "kg", "lot_mass").must().in(massIn(v.speaker.Units)).within("lot.kg")
	at := v.ask(momentBox, "harvested_at", "harvested_at").must().or("right.moment")
	cured := v.ask(momentBox, "cured_at", "cured_at").or("right.cured")
	room := v.ask(choiceBox, "room_id", "room").must().from(choices)
	boxes := []*Box{room, v.ask(choiceBox, "crop", "crop").must().from(v.crops()).with(l.Crop),
		v.ask(textBox, "variety", "variety").with(l.Variety), mass, at,
		v.ask(choiceBox, "container", "container").from(v.choices("lot.container", "container", "")).with(l.Container), cured}
	if l.ID == 0 {
		return v.sheet("/lots/new", "add", boxes...), nil
	}
	room.Value, mass.Value = fmt.Sprint(l.RoomID), mass.measure.write(l.Kg)
	at.Value = l.HarvestedAt.In(v.speaker.Zone).Format(momentLayout)
	if t, ok := l.CuredAt.Get(); ok {
		cured.Value = t.In(v.speaker.Zone).Format(momentLayout)
	}
	sheet := v.sheet(fmt.Sprintf("/lots/%d/change", l.ID), "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(l.Version), "/lots"
	return sheet, nil
}

func (s *Sheet) lot(zone *time.Location) func() commands.LotInput {
	return func() commands.LotInput {
		return commands.LotInput{RoomID: s.id("room_id"), Crop: s.text("crop"), Variety: s.text("variety"), Kg: s.number("kg"),
			HarvestedAt: s.moment("harvested_at", zone), Container: s.text("container"), CuredAt: s.moment("cured_at", zone)}
	}
}

func newLot(v *visit) error {
	sheet, err := v.lotForm(farm.Lot{Container: commands.DefaultContainer})
	if err != nil {
		return err
	}
	if len(sheet.box("room_id").Choices) == 0 {
		return v.to("/rooms/new", "room_first")
	}
	sheet.box("harvested_at").Value = v.now.In(v.speaker.Zone).Format(momentLayout)
	return v.show("sheet", v.say("page.new_lot"), sheet)
}

func addLot(v *visit) error {
	sheet, err := v.lotForm(farm.Lot{})
	if err != nil {
		return err
	}
	return submit(sheet, v.say("page.new_lot"), sheet.lot(v.speaker.Zone), func(in commands.LotInput) (string, error) {
		_, err := v.Commands.AddLot(v.ctx(), v.farm.ID, in)
		return "/lots?done=saved", err
	})
}

func (v *visit) lotToChange() (farm.Lot, *Sheet, error) {
	id, err := v.id()
	if err != nil {
		return farm.Lot{}, nil, err
	}
	l, err := v.books().Lot(v.ctx(), v.farm.ID, id)
	if err != nil {
		return l, nil, err
	}
	sheet, err := v.lotForm(l)
	return l, sheet, err
}

func changeLotForm(v *visit) error {
	l, sheet, err := v.lotToChange()
	if err != nil {
		return err
	}
	return v.show("sheet", v.say("page.change", "what", v.cropName(l.Crop, l.Variety)), sheet)
}

func changeLot(v *visit) error {
	l, sheet, err := v.lotToChange()
	if err != nil {
		return err
	}
	return submit(sheet, v.say("page.change", "what", v.cropName(l.Crop, l.Variety)), sheet.lot(v.speaker.Zone), func(in commands.LotInput) (string, error) {
		_, err := v.Commands.ChangeLot(v.ctx(), v.farm.ID, l.ID, sheet.seen(), in)
		return "/lots?done=saved", err
	})
}

func endLot(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Commands.EndLot(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return err
	}
	return v.to("/lots", "ended")
}
