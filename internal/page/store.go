package page

import (
	"fmt"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/desk"
	"winterstand/internal/farm"
	"winterstand/internal/ledger"
	"winterstand/internal/unit"
)

var roomsScreen = Screen{Path: "/rooms", Name: "page.rooms", Routes: func(s *Site, r chi.Router) {
	r.Get("/rooms", s.signed(showRooms))
	form(s, r, "/rooms/new", newRoom, addRoom)
	form(s, r, "/rooms/{id}/change", changeRoomForm, changeRoom)
	r.Post("/rooms/{id}/remove", s.change(removeRoom))
}}

type roomLine struct {
	ID    int64
	Name  string
	Facts []Fact
}

func showRooms(v *visit) error {
	rooms, err := v.books().Rooms(v.ctx(), v.farm.ID, ledger.Page{})
	if err != nil {
		return err
	}
	lots, err := v.books().Lots(v.ctx(), v.farm.ID, ledger.Page{})
	if err != nil {
		return err
	}
	kept := map[int64]float64{}
	for _, l := range lots {
		kept[l.RoomID] += l.Kg
	}
	var out []roomLine
	for _, r := range rooms {
		out = append(out, v.roomLine(r, kept[r.ID]))
	}
	return v.show("rooms", v.say("page.rooms"), out)
}

func (v *visit) roomLine(r farm.Room, kg float64) roomLine {
	s := v.speaker.Units
	l := roomLine{ID: r.ID, Name: r.Name, Facts: []Fact{
		{v.say("label.room_kind"), v.say("room_kind." + r.Kind)},
		{v.say("label.temperature"), s.Temperature(r.Temperature)},
		{v.say("label.kept"), s.Mass(kg)},
	}}
	if c, ok := r.CapacityKg.Get(); ok {
		l.Facts = append(l.Facts, Fact{v.say("label.capacity"), s.Mass(c)})
	}
	if h, ok := r.Humidity.Get(); ok {
		l.Facts = append(l.Facts, Fact{v.say("label.humidity"), percent.write(h) + " %"})
	}
	return l
}

func (v *visit) roomForm(r farm.Room) *Sheet {
	s := v.speaker.Units
	temperature := v.ask(numberBox, "temperature_c", "temperature").must().in(temperatureIn(s)).within("room.temperature_c")
	boxes := []*Box{
		v.ask(textBox, "name", "room_name").must().with(r.Name),
		v.ask(choiceBox, "kind", "room_kind").must().from(v.choices("room.kind", "room_kind", "form.choose_one")).with(r.Kind),
		temperature,
		v.ask(numberBox, "humidity", "humidity").in(percent).within("room.humidity").withNumber(r.Humidity),
		v.ask(numberBox, "capacity_kg", "capacity").in(massIn(s)).within("room.capacity_kg").withNumber(r.CapacityKg),
	}
	if r.ID == 0 {
		return v.sheet("/rooms/new", "add", boxes...)
	}
	temperature.Value = temperature.measure.write(float64(r.Temperature))
	sheet := v.sheet(fmt.Sprintf("/rooms/%d/change", r.ID), "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(r.Version), "/rooms"
	return sheet
}

func (s *Sheet) room() desk.RoomInput {
	return desk.RoomInput{Name: s.text("name"), Kind: s.text("kind"), Temperature: s.number("temperature_c"),
		Humidity: s.number("humidity"), CapacityKg: s.number("capacity_kg")}
}

func newRoom(v *visit) error {
	return v.show("sheet", v.say("page.new_room"), v.roomForm(farm.Room{}))
}

func addRoom(v *visit) error {
	sheet := v.roomForm(farm.Room{})
	return submit(sheet, v.say("page.new_room"), sheet.room, func(in desk.RoomInput) (string, error) {
		_, err := v.Desk.AddRoom(v.ctx(), v.farm.ID, in)
		return "/rooms?done=saved", err
	})
}

func (v *visit) roomToChange() (farm.Room, error) {
	id, err := v.id()
	if err != nil {
		return farm.Room{}, err
	}
	return v.books().Room(v.ctx(), v.farm.ID, id)
}

func changeRoomForm(v *visit) error {
	r, err := v.roomToChange()
	if err != nil {
		return err
	}
	return v.show("sheet", v.say("page.change", "what", r.Name), v.roomForm(r))
}

func changeRoom(v *visit) error {
	r, err := v.roomToChange()
	if err != nil {
		return err
	}
	sheet := v.roomForm(r)
	return submit(sheet, v.say("page.change", "what", r.Name), sheet.room, func(in desk.RoomInput) (string, error) {
		_, err := v.Desk.ChangeRoom(v.ctx(), v.farm.ID, r.ID, sheet.seen(), in)
		return "/rooms?done=saved", err
	})
}

func removeRoom(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Desk.RemoveRoom(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return v.refused(err, "refused.room")
	}
	return v.to("/rooms", "removed")
}

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
	lots, err := v.books().Lots(v.ctx(), v.farm.ID, ledger.Page{})
	if err != nil {
		return err
	}
	rooms, err := v.books().Rooms(v.ctx(), v.farm.ID, ledger.Page{})
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
	rooms, err := v.books().Rooms(v.ctx(), v.farm.ID, ledger.Page{})
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

func (s *Sheet) lot(zone *time.Location) func() desk.LotInput {
	return func() desk.LotInput {
		return desk.LotInput{RoomID: s.id("room_id"), Crop: s.text("crop"), Variety: s.text("variety"), Kg: s.number("kg"),
			HarvestedAt: s.moment("harvested_at", zone), Container: s.text("container"), CuredAt: s.moment("cured_at", zone)}
	}
}

func newLot(v *visit) error {
	sheet, err := v.lotForm(farm.Lot{Container: desk.DefaultContainer})
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
	return submit(sheet, v.say("page.new_lot"), sheet.lot(v.speaker.Zone), func(in desk.LotInput) (string, error) {
		_, err := v.Desk.AddLot(v.ctx(), v.farm.ID, in)
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
	return submit(sheet, v.say("page.change", "what", v.cropName(l.Crop, l.Variety)), sheet.lot(v.speaker.Zone), func(in desk.LotInput) (string, error) {
		_, err := v.Desk.ChangeLot(v.ctx(), v.farm.ID, l.ID, sheet.seen(), in)
		return "/lots?done=saved", err
	})
}

func endLot(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Desk.EndLot(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return err
	}
	return v.to("/lots", "ended")
}
