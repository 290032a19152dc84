package rehearsal

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/trial/standin"
	"winterstand/internal/unit"
)

// The invented farm: place, people and beds.
const (
	FarmName  = "Quarry Lane Farm"
	zoneName  = "America/New_York"
	latitude  = 46.71
	longitude = -68.32
)

// Place is the farm's point as the stand-in knows it.
func Place() standin.Place {
	return standin.Place{Name: "Quarry Lane", Latitude: latitude, Longitude: longitude, Elevation: unit.Some(190.0),
		TimeZone: zoneName, Office: "QLF", X: 31, Y: 52, Station: "KQLF"}
}

// Story is the winter that the demo plays: a mild autumn, a sudden snap in
// November after a soft week, deep cold under snow, a thaw.
func Story() Winter {
	at := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 11, 0, 0, 0, time.UTC) }
	return Winter{Latitude: latitude, Seed: 11, Outages: []Outage{{From: at(2026, 1, 24), To: at(2026, 1, 26)}}, Snaps: []Snap{
		{At: at(2025, 10, 6), Depth: 5, Days: 0.8, Clear: true},
		{At: at(2025, 10, 24), Depth: 3, Days: 0.9, Clear: true},
		{At: at(2025, 11, 5), Depth: -4, Days: 3},
		{At: at(2025, 11, 13), Depth: 9, Days: 1.3, Clear: true},
		{At: at(2025, 12, 9), Depth: 9, Days: 2, Clear: true},
		{At: at(2026, 1, 17), Depth: 13, Days: 3, Clear: true},
		{At: at(2026, 2, 8), Depth: -9, Days: 4},
		{At: at(2026, 3, 4), Depth: 8, Days: 2, Clear: true},
	}}
}

// Moments of the story.
var (
	Opening = time.Date(2025, 9, 20, 11, 0, 0, 0, time.UTC)  // where the winter is played from
	Eve     = time.Date(2025, 11, 10, 13, 0, 0, 0, time.UTC) // where the demo with pages opens: the snap is in the forecast
	Ending  = time.Date(2026, 4, 25, 11, 0, 0, 0, time.UTC)
)

type plantedBed struct {
	name, crop, purpose string
	kg, price, rate     float64
	cover               string
	coverOn             farm.Day
	mulchCm             float64
	sown                farm.Day
	goneBy              farm.Day // harvested by then in an ordinary year; empty: stands
}

var upper = []plantedBed{
	{name: "A1", crop: "chard", purpose: "fresh", kg: 90, price: 5, rate: 25, sown: "2025-07-08"},
	{name: "A2", crop: "kale-curly", purpose: "fresh", kg: 120, price: 5.5, rate: 22, sown: "2025-06-28"},
	{name: "A3", crop: "spinach", purpose: "fresh", kg: 60, price: 9, rate: 12, sown: "2025-08-20"},
	{name: "A4", crop: "lettuce-head", purpose: "fresh", kg: 45, price: 6, rate: 30, sown: "2025-08-10", goneBy: "2025-11-01"},
	{name: "A5", crop: "carrot", purpose: "store", kg: 420, price: 3, rate: 60, sown: "2025-07-10"},
	{name: "A6", crop: "leek-summer", purpose: "fresh", kg: 150, price: 4.5, rate: 35, sown: "2025-04-20"},
	{name: "A7", crop: "parsley", purpose: "fresh", kg: 25, price: 14, rate: 8, sown: "2025-06-05"},
}

var brook = []plantedBed{
	{name: "B1", crop: "beet", purpose: "store", kg: 300, price: 2.8, rate: 70, sown: "2025-07-15"},
	{name: "B2", crop: "bunching-onion-hardy", purpose: "overwinter", kg: 40, price: 8, rate: 10, sown: "2025-08-01"},
	{name: "B3", crop: "cilantro", purpose: "fresh", kg: 15, price: 16, rate: 7, sown: "2025-08-25"},
	{name: "B4", crop: "tomato", purpose: "fresh", kg: 110, price: 4.5, rate: 45, sown: "2025-05-25", goneBy: "2025-10-15"},
	{name: "B5", crop: "spinach", purpose: "overwinter", kg: 50, price: 9, rate: 12, cover: "row_cover_heavy", coverOn: "2025-11-01", sown: "2025-09-01"},
	{name: "B6", crop: "parsnip", purpose: "overwinter", kg: 260, price: 3.4, rate: 50, mulchCm: 15, sown: "2025-05-10"},
	{name: "B7", crop: "radish", purpose: "fresh", kg: 40, price: 4, rate: 40, sown: "2025-09-01", goneBy: "2025-11-05"},
}

// Settle registers the farm through the commands: fields, beds, people, rooms. It
// gives the farm with a token for its pages and API.
func Settle(ctx context.Context, d commands.Service) (commands.NewToken, error) {
	made, err := d.MakeToken(ctx, FarmName, farm.ScopeWrite)
	if err != nil {
		return made, fmt.Errorf("settle the demo farm: %w", err)
	}
	id := made.Farm.ID
	steps := []func(context.Context, commands.Service, int64) error{settings, people, rooms, lots, fields}
	for _, step := range steps {
		if err := step(ctx, d, id); err != nil {
			return made, fmt.Errorf("settle the demo farm: %w", err)
		}
	}
	return made, nil
}

func settings(ctx context.Context, d commands.Service, id int64) error {
	day := func(name string, people float64) farm.Shift {
		return farm.Shift{Day: name, From: "08:00", To: "16:00", People: people}
	}
	_, err := d.ChangeFarm(ctx, id, unit.None[int64](), commands.FarmInput{
		Units: commands.Set("us"), TimeZone: commands.Set(zoneName), Currency: commands.Set("USD"),
		Crew: commands.Set([]farm.Shift{day("mon", 2), day("tue", 2), day("wed", 3), day("thu", 2), day("fri", 3), day("sat", 1)}),
		Wanted: commands.Set([]farm.Want{
			{Crop: "carrot", KgPerWeek: 18, From: "2025-10-01", To: "2026-05-31"},
			{Crop: "beet", KgPerWeek: 10, From: "2025-10-01", To: "2026-04-30"},
			{Crop: "spinach", KgPerWeek: 5, From: "2025-10-01", To: "2026-05-31"},
			{Crop: "kale-curly", KgPerWeek: 8, From: "2025-10-01", To: "2026-02-28"},
			{Crop: "leek-summer", KgPerWeek: 7, From: "2025-10-01", To: "2026-03-31"},
			{Crop: "onion", KgPerWeek: 5, From: "2025-09-15", To: "2026-05-31"},
		}),
	})
	return err
}

func people(ctx context.Context, d commands.Service, id int64) error {
	for _, in := range []commands.RecipientInput{
		{Name: commands.Set("Odile"), Email: commands.Set("odile@quarrylane.example"), Phone: commands.Set("+12075550141")},
		{Name: commands.Set("Mateo"), Email: commands.Set("mateo@quarrylane.example"), Language: commands.Set("es"), Units: commands.Set("metric"),
			QuietFrom: commands.Set("21:00"), QuietTo: commands.Set("05:30")},
	} {
		if _, err := d.AddRecipient(ctx, id, in); err != nil {
			return err
		}
	}
	return nil
}

func rooms(ctx context.Context, d commands.Service, id int64) error {
	for _, in := range []commands.RoomInput{
		{Name: commands.Set("Root room"), Kind: commands.Set(farm.ColdStore), Temperature: commands.Set(3.0), Humidity: commands.Set(0.95), CapacityKg: commands.Set(900.0)},
		{Name: commands.Set("Wash-house fridge"), Kind: commands.Set(farm.Fridge), Temperature: commands.Set(3.9), Humidity: commands.Set(0.85), CapacityKg: commands.Set(250.0)},
		{Name: commands.Set("Packing-shed shelves"), Kind: commands.Set(farm.Ripening), Temperature: commands.Set(14.0), Humidity: commands.Set(0.85), CapacityKg: commands.Set(150.0)},
		{Name: commands.Set("Chest freezer"), Kind: commands.Set(farm.Freezer), Temperature: commands.Set(-18.0), CapacityKg: commands.Set(90.0)},
		{Name: commands.Set("Barn loft"), Kind: commands.Set(farm.Airy), Temperature: commands.Set(8.0), Humidity: commands.Set(0.65), CapacityKg: commands.Set(300.0)},
	} {
		if _, err := d.AddRoom(ctx, id, in); err != nil {
			return err
		}
	}
	return nil
}

func fields(ctx context.Context, d commands.Service, id int64) error {
	for _, f := range []struct {
		in   commands.FieldInput
		beds []plantedBed
	}{
		{commands.FieldInput{Name: commands.Set("Upper terrace"), Soil: commands.Set("sandy_loam")}, upper},
		{commands.FieldInput{Name: commands.Set("Brook field"), Soil: commands.Set("silt_loam"), LowSpot: commands.Set(1.0)}, brook},
	} {
		f.in.Latitude, f.in.Longitude, f.in.Elevation = commands.Set(latitude), commands.Set(longitude), commands.Set(190.0)
		made, err := d.AddField(ctx, id, f.in)
		if err != nil {
			return err
		}
		for _, b := range f.beds {
			if b.goneBy != "" && b.goneBy < farm.DayOf(d.Now(), time.UTC) {
				continue
			}
			if _, err := d.AddBed(ctx, id, b.input(made.ID)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b plantedBed) input(fieldID int64) commands.BedInput {
	in := commands.BedInput{
		FieldID: commands.Set(fieldID), Name: commands.Set(b.name), Crop: commands.Set(b.crop), Purpose: commands.Set(b.purpose),
		StandingKg: commands.Set(b.kg), PricePerKg: commands.Set(b.price), LiftKgPerHour: commands.Set(b.rate), SownOn: commands.Set(string(b.sown)),
	}
	if b.cover != "" {
		in.Covers = commands.Set([]farm.Cover{{Kind: b.cover, On: b.coverOn}})
	}
	if b.mulchCm > 0 {
		in.MulchCm = commands.Set(b.mulchCm)
	}
	return in
}
