package plan_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/unit"
)

var morning = time.Date(2026, 11, 9, 14, 0, 0, 0, time.UTC)

func hour(n float64) time.Time { return morning.Add(time.Duration(n * float64(time.Hour))) }

func window(from, to, people float64) lifting.Window {
	return lifting.Window{Span: lifting.Span{Start: hour(from), End: hour(to)}, People: people}
}

func liftable(id int64, deadline, kg, price, rate float64) lifting.Bed {
	return lifting.Bed{ID: id, Deadline: hour(deadline), Likelihood: 1, Kg: unit.Some(kg), PricePerKg: unit.Some(price), KgPerHour: rate}
}

// lined is a plan of beds "bed 1", "bed 2", … and rooms "store 1", ….
func lined(t *testing.T, beds []lifting.Bed, windows []lifting.Window, rooms []lifting.Room) plan.Plan {
	t.Helper()
	r, err := lifting.Plan(beds, windows, rooms)
	require.NoError(t, err)
	p := plan.Plan{Result: r, Zone: time.UTC, Currency: "USD", CrewGiven: true}
	for _, b := range beds {
		p.Beds = append(p.Beds, plan.PlannedBed{BedID: b.ID, Name: "B" + string(rune('0'+b.ID)), Crop: "carrot", RateGiven: true})
	}
	for _, r := range rooms {
		p.Stores = append(p.Stores, plan.PlannedRoom{RoomID: r.ID, Name: r.Kind})
	}
	return p
}

func TestTextOfAPlan(t *testing.T) {
	a, b := liftable(1, 5, 100, 2, 50), liftable(2, 5, 100, 3, 20)
	b.RoomKinds = []string{farm.Cellar, farm.ColdStore}
	c := liftable(3, 5, 10, 2, 20)
	c.Kg = unit.None[float64]()
	d := liftable(4, 5, 10, 2, 20)
	d.PricePerKg = unit.None[float64]()
	p := lined(t, []lifting.Bed{a, b, c, d}, []lifting.Window{window(0, 5, 1), window(6, 7, 2)},
		[]lifting.Room{{ID: 7, Kind: farm.Cellar, FreeKg: unit.Some(20.0)}, {ID: 8, Kind: farm.ColdStore, FreeKg: unit.Some(10.0)}})
	assert.Equal(t, strings.TrimLeft(`
Mon 9 Nov 14:00 UTC to Mon 9 Nov 19:00 UTC, 1 person:
  1. B1 (carrot): 100 kg, 2.0 person-hours
  2. B2 (carrot): 30 kg, 1.5 person-hours, into cellar (20 kg), cold_store (10 kg)
  3. B4 (carrot): 10 kg, 0.5 person-hours
  1.0 person-hours left over
Given up:
  B2 (carrot): 70 kg, 210 USD at risk. There is no room for it in a store that suits.
  B3 (carrot): not planned, its standing weight is not known.
One more tote (20 kg) of room in cellar would save 60 USD (20 kg of B2 (carrot)).
One more tote (20 kg) of room in cold_store would save 60 USD (20 kg of B2 (carrot)).
No price is given for B4 (carrot): 2.00 USD per kg is used in its place.
`, "\n"), p.Text(inUTC(unit.Metric)))
}

func inUTC(units unit.System) phrase.Speaker {
	s := speaker("en", units)
	s.Zone = time.UTC
	return s
}

func TestTextInTheReadersUnits(t *testing.T) {
	text := lined(t, []lifting.Bed{liftable(1, 2, 100, 2, 20)}, []lifting.Window{window(0, 3, 1)}, nil).Text(inUTC(unit.US))
	assert.Contains(t, text, "B1 (carrot): 88 lb, 2.0 person-hours")
	assert.Contains(t, text, "One more person-hour here would save 40 USD (44 lb of B1 (carrot)).")
	assert.Contains(t, text, "No store is recorded")
	assert.NotContains(t, text, " kg,")
}

func TestTextWhenAllIsWell(t *testing.T) {
	all := lined(t, []lifting.Bed{liftable(1, 2, 10, 2, 20)}, []lifting.Window{window(0, 3, 1)}, nil)
	assert.Contains(t, all.Text(inUTC(unit.Metric)), "Every bed with a deadline can be lifted in time.")
	assert.Contains(t, plan.Plan{Result: lifting.Result{Exact: true}}.Text(inUTC(unit.Metric)), "No bed has a deadline.")
}

func TestEveryReasonHasItsPhrase(t *testing.T) {
	for _, why := range lifting.Whys() {
		assert.True(t, phrase.MustLoad().Has("plan."+string(why)), why)
	}
}
