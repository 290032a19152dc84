package keeping

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

func lot(t *testing.T, id int64, key, in string) Stored {
	k := keeper(t, key, in)
	return Stored{LotID: id, Kg: 40, Keeper: k, State: k.Cured()}
}

func store(kind string, c float64, humidity float64, capacity float64) Store {
	return Store{Climate: climate(kind, c, humidity), CapacityKg: unit.Some(capacity)}
}

func TestAdvise(t *testing.T) {
	raw := lot(t, 2, "onion", "crate")
	raw.State = State{}
	thawed := lot(t, 2, "carrot", "tote")
	thawed.State.FrozeThawed = true
	hurt := lot(t, 2, "beet", "tote")
	hurt.Damaged = true
	killed := lot(t, 2, "tomato", "open")
	killed.FrostKilled = true

	for _, c := range []struct {
		name   string
		source string
		room   Store
		lots   []Stored
		want   []Code
		not    []Code
	}{
		{"onions beside roots", "USDA Agriculture Handbook 66: 65–70 % against 98–100 %", store(farm.ColdStore, 2, 0.8, 1000),
			[]Stored{lot(t, 1, "onion", "crate"), lot(t, 2, "carrot", "tote")}, []Code{HumidityClash}, []Code{EthyleneClash}},
		{"roots alone", "", store(farm.ColdStore, 1, 0.97, 1000), []Stored{lot(t, 1, "carrot", "tote"), lot(t, 2, "beet", "tote")}, nil,
			[]Code{HumidityClash, EthyleneClash, TooDry, TooWarm, RoomFull}},
		{"apples beside carrots", "USDA Agriculture Handbook 66: bitterness from ethylene", store(farm.ColdStore, 1, 0.95, 1000),
			[]Stored{lot(t, 1, "apple", "crate"), lot(t, 2, "carrot", "tote")}, []Code{EthyleneClash}, nil},
		{"cure first", "common practice, no source", store(farm.ColdStore, 3, 0.65, 1000), []Stored{raw}, []Code{NotCured}, nil},
		{"curing where it should", "common practice, no source", store(farm.Airy, 20, 0.6, 1000), []Stored{raw}, nil, []Code{NotCured, TooWarm}},
		{"bulbs need air", "common practice, no source", store(farm.ColdStore, 3, 0.65, 1000), []Stored{lot(t, 1, "onion", "tote")}, []Code{NeedsAir}, nil},
		{"thawed", "NCHFP: use promptly", store(farm.ColdStore, 3, 0.95, 1000), []Stored{thawed}, []Code{UsePromptly}, nil},
		{"hurt by frost in the field", "NCHFP: use promptly", store(farm.ColdStore, 1, 0.97, 1000), []Stored{hurt}, []Code{Damaged}, []Code{UsePromptly}},
		{"below the freezing point", "Whiteman 1957: lettuce 31.7 °F", store(farm.Fridge, -0.5, 0.95, 1000),
			[]Stored{lot(t, 1, "lettuce-head", "bag"), lot(t, 2, "carrot", "bag")}, []Code{BelowFreezing}, nil},
		{"tomato in the cold", "USDA Agriculture Handbook 66: chilling below 10 °C", store(farm.Fridge, 4, 0.9, 1000),
			[]Stored{lot(t, 1, "tomato", "open")}, []Code{Chilled, DoNotCan}, []Code{SortRipening}},
		{"frost-killed vines", "USDA/NCHFP: do not can", store(farm.Ripening, 16, 0.9, 1000), []Stored{killed}, []Code{DoNotCan, SortRipening}, []Code{Chilled}},
		{"dry air, open crate", "", store(farm.ColdStore, 2, 0.7, 1000), []Stored{lot(t, 1, "carrot", "crate")}, []Code{TooDry}, nil},
		{"dry air, closed tote", "", store(farm.ColdStore, 2, 0.7, 1000), []Stored{lot(t, 1, "carrot", "tote")}, nil, []Code{TooDry}},
		{"damp air, onions", "", store(farm.Cellar, 2, 0.95, 1000), []Stored{lot(t, 1, "onion", "crate")}, []Code{TooDamp}, nil},
		{"warm room", "", store(farm.Cellar, 15, 0.95, 1000), []Stored{lot(t, 1, "spinach", "bag")}, []Code{TooWarm}, nil},
		{"freezer not cold", "0 °F, NCHFP", store(farm.Freezer, -10, 0.9, 1000), []Stored{lot(t, 1, "kale-curly", "bag")}, []Code{FreezerWarm}, []Code{TooDry}},
		{"nearly full", "", store(farm.ColdStore, 1, 0.97, 85), []Stored{lot(t, 1, "carrot", "tote"), lot(t, 2, "beet", "tote")}, []Code{RoomFull}, []Code{RoomOverfull}},
		{"overfull", "", store(farm.ColdStore, 1, 0.97, 70), []Stored{lot(t, 1, "carrot", "tote"), lot(t, 2, "beet", "tote")}, []Code{RoomOverfull}, []Code{RoomFull}},
	} {
		t.Run(c.name, func(t *testing.T) {
			notes := Advise(c.room, c.lots)
			for _, w := range c.want {
				assert.Contains(t, codes(notes), w, c.source)
			}
			for _, w := range c.not {
				assert.NotContains(t, codes(notes), w)
			}
			for i := 1; i < len(notes); i++ {
				assert.False(t, notes[i].Warning && !notes[i-1].Warning, "warnings come first")
			}
		})
	}
}

func TestAdviceNamesEachLotOnce(t *testing.T) {
	notes := Advise(store(farm.ColdStore, 1, 0.95, 1000),
		[]Stored{lot(t, 1, "apple", "crate"), lot(t, 3, "apple", "crate"), lot(t, 2, "carrot", "tote")})
	for _, n := range notes {
		if n.Code == EthyleneClash {
			assert.Equal(t, []int64{1, 2, 3}, n.Lots)
			assert.Equal(t, []string{"carrot"}, n.Other)
		}
	}
}

// Whatever lies in whatever room: every note is one of the codes
// and knows what its sentence will ask for.
func TestAdviceIsAlwaysWhole(t *testing.T) {
	entries := book(t).Entries()
	rapid.Check(t, func(rt *rapid.T) {
		room := store(rapid.SampledFrom([]string{farm.ColdStore, farm.Fridge, farm.Airy, farm.Freezer, farm.Ripening, farm.Cellar}).Draw(rt, "kind"),
			rapid.Float64Range(-20, 30).Draw(rt, "°C"), rapid.Float64Range(0, 1).Draw(rt, "humidity"), 100)
		var lots []Stored
		for n := range rapid.IntRange(1, 4).Draw(rt, "lots") {
			one := lot(t, int64(n+1), rapid.SampledFrom(entries).Draw(rt, "crop").Name, rapid.SampledFrom([]string{"open", "tote", "bag", "crate", "hung"}).Draw(rt, "in"))
			one.State.FrozeThawed = rapid.Bool().Draw(rt, "thawed")
			if rapid.Bool().Draw(rt, "raw") {
				one.State.CuredHours = 0
			}
			lots = append(lots, one)
			u, err := one.Keeper.UseBy(one.State, harvest, room.Climate)
			require.NoError(rt, err)
			for _, note := range u.Notes {
				assertWhole(rt, note)
			}
			assert.False(rt, u.P50.Before(u.P10) || u.P90.Before(u.P50))
		}
		for _, note := range Advise(room, lots) {
			assertWhole(rt, note)
		}
	})
}

// known are the numbers that the sentence of a code speaks of.
var known = map[Code]string{
	BelowFreezing: "temperature limit", Chilled: "temperature limit", TooWarm: "temperature limit", FreezerWarm: "temperature limit",
	TooDry: "share", TooDamp: "share", RoomFull: "share", RoomOverfull: "share", HumidityClash: "others", EthyleneClash: "others",
}

func assertWhole(t require.TestingT, n Note) {
	assert.Contains(t, Codes(), n.Code)
	var has []string
	for what, known := range map[string]bool{"temperature": n.Temp.Known(), "limit": n.Limit.Known(), "share": n.Share.Known(), "others": len(n.Other) > 0} {
		if known {
			has = append(has, what)
		}
	}
	assert.Subset(t, has, strings.Fields(known[n.Code]), n.Code)
}

func TestRoomHeat(t *testing.T) {
	watts, unknown := RoomHeat(store(farm.ColdStore, 0, 0.97, 1000), []Stored{lot(t, 1, "carrot", "tote"), lot(t, 2, "chard", "bag")})
	assert.InDelta(t, 40*15*2.97/1000, watts, 1e-9)
	assert.Equal(t, []string{"chard"}, unknown)
}
