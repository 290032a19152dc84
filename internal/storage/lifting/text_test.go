package lifting

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

func reader() Reader {
	return Reader{
		Units: unit.Metric, Currency: "USD",
		When: func(t time.Time) string { return t.Format("Mon 2 Jan 15:04 MST") },
		Bed:  func(id int64) string { return fmt.Sprintf("bed %d", id) },
		Room: func(id int64) string { return fmt.Sprintf("store %d", id) },
	}
}

func TestTextOfAPlan(t *testing.T) {
	a, b := bed(1, 5, 100, 2, 50), bed(2, 5, 100, 3, 20)
	b.RoomKinds = []string{farm.Cellar, farm.ColdStore}
	c := bed(3, 5, 10, 2, 20)
	c.Kg = unit.None[float64]()
	d := bed(4, 5, 10, 2, 20)
	d.PricePerKg = unit.None[float64]()
	r := plan(t, []Bed{a, b, c, d}, []Window{window(0, 5, 1), window(6, 7, 2)},
		[]Room{{ID: 7, Kind: farm.Cellar, FreeKg: unit.Some(20.0)}, {ID: 8, Kind: farm.ColdStore, FreeKg: unit.Some(10.0)}})
	assert.Equal(t, strings.TrimLeft(`
Mon 9 Nov 14:00 UTC to Mon 9 Nov 19:00 UTC, 1 person:
  1. bed 1: 100 kg, 2.0 person-hours
  2. bed 2: 30 kg, 1.5 person-hours, into store 7 (20 kg), store 8 (10 kg)
  3. bed 4: 10 kg, 0.5 person-hours
  1.0 person-hours left over
Mon 9 Nov 20:00 UTC to Mon 9 Nov 21:00 UTC, 2 people:
  nothing to lift
Given up:
  bed 2: 70 kg, 210 USD at risk. There is no room for it in a store that suits.
  bed 3: not planned, its standing weight is not known.
One more tote (20 kg) of room in store 7 would save 60 USD (20 kg of bed 2).
One more tote (20 kg) of room in store 8 would save 60 USD (20 kg of bed 2).
No price is given for bed 4: 2.00 USD per kg is used in its place.
`, "\n"), r.Text(reader()))
}

func TestTextInTheReadersUnits(t *testing.T) {
	r := plan(t, []Bed{bed(1, 2, 100, 2, 20)}, []Window{window(0, 3, 1)}, nil)
	us := reader()
	us.Units = unit.US
	text := r.Text(us)
	assert.Contains(t, text, "bed 1: 88 lb, 2.0 person-hours")
	assert.Contains(t, text, "One more person-hour here would save 40 USD (44 lb of bed 1).")
	assert.Contains(t, text, "No store is recorded")
	assert.NotContains(t, text, " kg,")
}

func TestTextWhenAllIsWell(t *testing.T) {
	all := plan(t, []Bed{bed(1, 2, 10, 2, 20)}, []Window{window(0, 3, 1)}, nil)
	assert.Contains(t, all.Text(reader()), "Every bed with a deadline can be lifted in time.")
	assert.Contains(t, plan(t, nil, nil, nil).Text(reader()), "No bed has a deadline.")
}

func TestEveryReasonHasItsPhrase(t *testing.T) {
	for _, why := range []Why{NoWindow, Hours, NoRoom, NoWeight, NoValue} {
		require.NotEmpty(t, English[string(why)])
	}
}

func TestAnotherLanguage(t *testing.T) {
	r := reader()
	var asked []string
	r.Say = func(key string, args map[string]string) string {
		asked = append(asked, key)
		return "<" + key + ">"
	}
	text := plan(t, []Bed{bed(1, 2, 100, 2, 20)}, []Window{window(0, 3, 1)}, nil).Text(r)
	assert.Contains(t, text, "<hour>")
	for _, key := range asked {
		assert.Contains(t, English, key, "a translator finds every phrase in English")
	}
}
