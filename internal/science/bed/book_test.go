package bed_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

// wholeAutumn is a class on which everything happens: covers on and off, mulch,
// snow readings; with plants that were found damaged, sown late or moved.
func wholeAutumn(t ftest) (bed.Class, []bed.Plant) {
	at := func(day, hour int) int64 {
		return september.Add(time.Duration(day*24+hour) * time.Hour).Unix()
	}
	ours := farm.Bed{
		Covers:  []farm.Cover{{Kind: "row_cover_heavy", On: "2025-10-05", Off: "2025-10-20"}, {Kind: "low_tunnel", On: "2025-11-20"}},
		Mulches: []farm.Mulch{{Cm: 10, On: "2025-10-28"}, {Cm: 0, On: "2025-11-15"}, {Cm: 15, On: "2025-12-01"}},
	}
	snow := []bed.SnowReading{{At: at(80, 15), Cm: 12}, {At: at(92, 14), Cm: 4}, {At: at(100, 14), Cm: 0}}
	bias := microclimate.FieldBias{Calm: microclimate.Learned{MeanK: -1.4, Weight: 5}}
	class := bed.ClassOf(placed(farm.Field{LowSpot: 2, Soil: "sandy_loam"}, time.UTC), ours, bias, snow)
	plants := plantsOf(t, "chard", "kale-curly", "spinach", "carrot")
	plants[0].Found = []bed.Finding{{At: at(75, 18), Left: 0.7}, {At: at(90, 18), Left: 0}}
	plants[1].Offset = -0.75
	plants[2].Since = september.Add(20*24*time.Hour + 5*time.Hour)
	return class.Growing(plants[0].Crop), plants
}

// Saved and resumed at every single hour of an autumn, the book is that of a
// straight run, bit for bit. So it is for any hours it may be resumed at.
func TestResumedAtEveryHourIsTheSameBits(t *testing.T) {
	class, plants := wholeAutumn(t)
	hours := autumn(110 * 24)
	straight := bed.NewBook(&class, plants, september)
	resumed := bed.NewBook(&class, plants, september)
	for i := range hours {
		require.NoError(t, straight.Advance(&class, plants, hours[i:i+1]))
		body, err := resumed.Save()
		require.NoError(t, err)
		resumed, err = bed.Open(body)
		require.NoError(t, err)
		require.NoError(t, resumed.Advance(&class, plants, hours[i:i+1]))
		require.Equal(t, straight, resumed, hours[i].At)
	}
	all := bed.NewBook(&class, plants, september)
	require.NoError(t, all.Advance(&class, plants, hours))
	require.Equal(t, straight, all, "hour by hour or at once")

	chard := all.Plants[plants[0].Key()]
	assert.True(t, chard.NothingLeft(), "the last finding counts")
	assert.Less(t, all.Plants[plants[2].Key()].Sold.LT50, cropOf(t, "spinach").Sold.Cold, "the autumn hardened something")
	assert.Equal(t, 15.0, all.Ground.StrawCm, "the last mulch lies")
}

func TestPropertyResumedAnywhereIsTheSameBits(t *testing.T) {
	class, plants := wholeAutumn(t)
	hours := autumn(30 * 24)
	straight := bed.NewBook(&class, plants, september)
	require.NoError(t, straight.Advance(&class, plants, hours))
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.IntRange(0, len(hours)).Draw(t, "saved at")
		b := bed.NewBook(&class, plants, september)
		require.NoError(t, b.Advance(&class, plants, hours[:at]))
		body, err := b.Save()
		require.NoError(t, err)
		b, err = bed.Open(body)
		require.NoError(t, err)
		require.True(t, b.Holds(plants))
		require.NoError(t, b.Advance(&class, plants, hours[at:]))
		require.Equal(t, straight, b)
	})
}

// Plants of one key share one state, however many beds they stand in.
func TestEqualPlantsAreSteppedOnce(t *testing.T) {
	class, one := open(cropOf(t, "chard")), plantsOf(t, "chard")
	hours := autumn(40 * 24)
	alone, twice := bed.NewBook(&class, one, september), bed.NewBook(&class, one, september)
	require.NoError(t, alone.Advance(&class, one, hours))
	require.NoError(t, twice.Advance(&class, append(one, one[0]), hours))
	assert.Equal(t, alone, twice)
}

// A plant that is no longer among those of the class must not be resumed where
// it stood when it left.
func TestPlantsThatLeaveTheClassLeaveTheBook(t *testing.T) {
	class, both := open(cropOf(t, "chard")), plantsOf(t, "chard", "kale-curly")
	hours := autumn(48)
	b := bed.NewBook(&class, both, september)
	require.NoError(t, b.Advance(&class, both, hours[:24]))
	require.True(t, b.Holds(both))
	require.NoError(t, b.Advance(&class, both[:1], hours[24:]))
	assert.False(t, b.Holds(both))
	assert.ErrorIs(t, b.Advance(&class, both, nil), bed.ErrStranger)
	_, err := bed.Try(&b, &class, both, []unit.Kelvins{1, 1}, nil, nil)
	assert.ErrorContains(t, err, "kale-curly")
}

func TestAPlantIsUnhardenedUntilItIsThere(t *testing.T) {
	class := open(cropOf(t, "spinach"))
	old, young := plantsOf(t, "spinach")[0], plantsOf(t, "spinach")[0]
	young.Since = september.Add(60 * 24 * time.Hour)
	plants := []bed.Plant{old, young}
	b := bed.NewBook(&class, plants, september)
	require.NoError(t, b.Advance(&class, plants, autumn(60*24)))
	assert.Less(t, b.Plants[old.Key()].Sold.LT50, b.Plants[young.Key()].Sold.LT50)
	assert.Equal(t, young.NewState(north.Latitude, young.Since), b.Plants[young.Key()], "not stepped before it stood")
}

// What cannot be stepped stops with its hour and its name, never as a warm hour.
func TestAnHourThatCannotBeTakenIsNamed(t *testing.T) {
	class, plants := open(cropOf(t, "chard")), plantsOf(t, "chard")
	for _, c := range []struct {
		name string
		air  unit.Maybe[unit.Celsius]
		says string
	}{
		{"missing", unit.None[unit.Celsius](), "2025-09-01T02:00:00Z: air temperature is missing"},
		{"not a number", unit.Some(unit.Celsius(nan)), "2025-09-01T02:00:00Z: air temperature NaN"},
		{"impossible", unit.Some(unit.Celsius(-400)), "2025-09-01T02:00:00Z: air temperature -400"},
	} {
		hours := autumn(4)
		hours[2].Air = c.air
		b := bed.NewBook(&class, plants, september)
		assert.ErrorContains(t, b.Advance(&class, plants, hours), c.says, c.name)
		assert.Equal(t, hours[2].At, b.Ground.At(), "%s: the book holds up to there", c.name)

		fresh := bed.NewBook(&class, plants, september)
		_, err := bed.Try(&fresh, &class, plants, []unit.Kelvins{1}, hours, exactly(4))
		assert.ErrorContains(t, err, c.says, c.name)
	}
}

func TestHoursMustFollowTheBook(t *testing.T) {
	class, plants := open(cropOf(t, "chard")), plantsOf(t, "chard")
	b := bed.NewBook(&class, plants, september)
	assert.ErrorContains(t, b.Advance(&class, plants, autumn(3)[1:]), "next hour is 2025-09-01T00:00:00Z")
}

func TestWhatCannotBeOpened(t *testing.T) {
	_, err := bed.Open([]byte(`{"plants": 3}`))
	assert.ErrorContains(t, err, "open book")
}
