package page

import (
	"fmt"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
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
	rooms, err := v.books().Rooms(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return err
	}
	lots, err := v.books().Lots(v.ctx(), v.farm.ID, store.Page{})
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

func (s *Sheet) room() commands.RoomInput {
	return commands.RoomInput{Name: s.text("name"), Kind: s.text("kind"), Temperature: s.number("temperature_c"),
		Humidity: s.number("humidity"), CapacityKg: s.number("capacity_kg")}
}

func newRoom(v *visit) error {
	return v.show("sheet", v.say("page.new_room"), v.roomForm(farm.Room{}))
}

func addRoom(v *visit) error {
	sheet := v.roomForm(farm.Room{})
	return submit(sheet, v.say("page.new_room"), sheet.room, func(in commands.RoomInput) (string, error) {
		_, err := v.Commands.AddRoom(v.ctx(), v.farm.ID, in)
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
	return submit(sheet, v.say("page.change", "what", r.Name), sheet.room, func(in commands.RoomInput) (string, error) {
		_, err := v.Commands.ChangeRoom(v.ctx(), v.farm.ID, r.ID, sheet.seen(), in)
		return "/rooms?done=saved", err
	})
}

func removeRoom(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	if err := v.Commands.RemoveRoom(v.ctx(), v.farm.ID, id, unit.None[int64]()); err != nil {
		return err
	}
	return v.to("/rooms", "removed")
}
