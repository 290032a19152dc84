package scene

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func cropOf(t require.TestingT, name string) crop.Crop {
	cat, err := crop.Default()
	require.NoError(t, err)
	c, err := cat.Find(name)
	require.NoError(t, err)
	return c
}

var site = microclimate.Site{Latitude: 46, Longitude: -92, ElevationM: 300}

func aPlot(t require.TestingT, b farm.Bed) Plot {
	c := cropOf(t, b.Crop)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	place := farm.Place{Latitude: site.Latitude, Longitude: site.Longitude, ElevationM: site.ElevationM, Soil: farm.DefaultSoil, Zone: zone}
	return Plot{Bed: b, Owner: farm.New("Hill Farm", hourNow), Zone: zone, Spread: c.Spread, Plant: bed.Plant{Crop: c},
		Class: bed.ClassOf(place, b, microclimate.FieldBias{}, nil).Growing(c)}
}

func aGroup(t require.TestingT, names ...string) *Group {
	var plots []Plot
	for _, n := range names {
		plots = append(plots, aPlot(t, farm.Bed{Crop: n}))
	}
	groups := Groups(plots)
	require.Len(t, groups, 1)
	return groups[0]
}

// Beds that share ground are one class; equal plants in it are one plant; what
// cannot be judged is in none.
func TestBedsAreGathered(t *testing.T) {
	chard, again, kale := aPlot(t, farm.Bed{ID: 1, Crop: "chard"}), aPlot(t, farm.Bed{ID: 2, Crop: "chard"}), aPlot(t, farm.Bed{ID: 3, Crop: "kale-curly"})
	sure, broken := again, again
	sure.Spread /= 2
	broken.Broken = farm.GapCrop
	covered := aPlot(t, farm.Bed{ID: 4, Crop: "chard", Covers: []farm.Cover{{Kind: "low_tunnel", On: "2025-10-01"}}})
	groups := Groups([]Plot{chard, again, kale, sure, broken, covered})
	require.Len(t, groups, 2)
	assert.Equal(t, []int{0, 1, 2, 3}, groups[0].Plots)
	assert.Len(t, groups[0].Plants, 3, "chard, kale, and chard that is better known")
	assert.Equal(t, []int{5}, groups[1].Plots)
	again2 := Groups([]Plot{chard, again, kale, sure, broken, covered})
	assert.Equal(t, groups[0].Plants, again2[0].Plants, "always in the same order")
}

// season is a scene with so many hours behind it.
func season(t require.TestingT, n int) *Scene {
	s := looked(complete(hourNow))
	s.remember(history(n, func(i int) unit.Maybe[unit.Celsius] {
		day := float64(i) / 24
		return unit.Some(unit.Celsius(14 - day/5 - 6*math.Cos(2*math.Pi*day) + 3*math.Sin(day)))
	}), hourNow)
	s.Members, s.Spread = verdict.Dress(s.Doc.Body, s.Coming, s.Now, 9, "season")
	require.Empty(t, s.Missing)
	return s
}

// From a checkpoint or from the start of the history, the same bits.
func TestACheckpointChangesNothing(t *testing.T) {
	g := aGroup(t, "chard", "kale-curly", "spinach")
	s := season(t, 60*24)
	straight, checkpoint, err := advance(s, g, nil)
	require.NoError(t, err)
	require.NotNil(t, checkpoint)
	assert.Equal(t, hourNow.Add(-SettledAfter), checkpoint.AsOf)
	assert.Equal(t, hourNow, straight.Ground.At())
	saved := map[string]store.Checkpoint{CheckpointKey(s, g): *checkpoint}

	resumed, again, err := advance(s, g, saved)
	require.NoError(t, err)
	assert.Nil(t, again, "there is nothing newer to keep")
	assert.Equal(t, straight, resumed)

	s.Now = s.Now.Add(5 * time.Hour) // the next rounds take over hours that have passed
	s.Past = append(s.Past, s.Coming[:5]...)
	later, next, err := advance(s, g, saved)
	require.NoError(t, err)
	require.NotNil(t, next)
	fresh, _, err := advance(s, g, nil)
	require.NoError(t, err)
	assert.Equal(t, fresh, later)
}

// A checkpoint is for one ground, one history and the plants it knows.
func TestACheckpointThatDoesNotFitIsNotUsed(t *testing.T) {
	g := aGroup(t, "chard")
	s := season(t, 20*24)
	_, checkpoint, err := advance(s, g, nil)
	require.NoError(t, err)
	key := CheckpointKey(s, g)
	for name, saved := range map[string]store.Checkpoint{
		"broken":          {AsOf: checkpoint.AsOf, Body: []byte("{")},
		"from the future": {AsOf: hourNow.Add(48 * time.Hour), Body: checkpoint.Body},
	} {
		book, at := resume(s, g, map[string]store.Checkpoint{key: saved})
		assert.Equal(t, s.Start, at, name)
		assert.Equal(t, s.Start, book.Ground.At(), name)
	}
	more := aGroup(t, "chard", "kale-curly")
	_, at := resume(s, more, map[string]store.Checkpoint{CheckpointKey(s, more): *checkpoint})
	assert.Equal(t, s.Start, at, "a plant that it does not know")

	longer := season(t, 21*24)
	assert.NotEqual(t, key, CheckpointKey(longer, g), "a history that begins sooner")
	covered := aPlot(t, farm.Bed{Crop: "chard", Covers: []farm.Cover{{Kind: "low_tunnel", On: "2025-10-01"}}})
	assert.NotEqual(t, key, CheckpointKey(s, Groups([]Plot{covered})[0]))
}

// A verdict is signed with what it rests on.
func TestAVerdictSaysWhatItRestsOn(t *testing.T) {
	p := aPlot(t, farm.Bed{ID: 1, Crop: "chard", Mulches: []farm.Mulch{{Cm: 8}}})
	s := season(t, 10*24)
	s.Doc.ID, s.Doc.Source, s.Doc.Issued = 7, "nws", hourNow.Add(-time.Hour)
	s.Doc.Body.Place, s.Doc.Body.Credit = "DLH/89,91", "NOAA"
	a, _, err := (&Reader{}).Try(s, Groups([]Plot{p})[0], nil)
	require.NoError(t, err)
	v := a.Verdict(s, &p, LimitsOf(p.Owner))
	assert.Equal(t, farm.Basis{ID: 7, Source: "nws", Place: "DLH/89,91", Issued: s.Doc.Issued, Credit: "NOAA"}, v.Forecast)
	assert.Equal(t, 240, v.HistoryHours)
	assert.True(t, v.DefaultStart)
	assert.Equal(t, verdict.FromDressing, v.Spread)
	assert.Equal(t, 9, v.Members)
	assert.Equal(t, "none", v.Cover)
	assert.Equal(t, 8.0, v.MulchCm)
	assert.Equal(t, 0.2, v.CostLoss)
	blind := s.CannotSee(&p, farm.Holes, []farm.Gap{{What: farm.GapWind}})
	assert.Equal(t, farm.Unknown, blind.State)
	assert.Equal(t, farm.Holes, blind.Blind)
	assert.Equal(t, []farm.Gap{{What: farm.GapWind}}, blind.Missing)
	assert.False(t, blind.Likelihood.Known(), "unknown is no likelihood of zero")
}

// With little known of the past the tolerance is less sure, the less the less.
func TestAGuessIsWide(t *testing.T) {
	p := aPlot(t, farm.Bed{Crop: "chard"})
	last := math.Inf(1)
	for _, days := range []int{0, 3, 8, 12, 14, 40} {
		k := &Knowledge{Scene: season(t, 24*days)}
		q := p
		k.guess(&q)
		assert.LessOrEqual(t, float64(q.Spread), last, "%d days", days)
		if days >= 14 {
			assert.Equal(t, p.Spread, q.Spread, "%d days", days)
		}
		last = float64(q.Spread)
	}
	k := &Knowledge{Scene: season(t, 0)}
	k.guess(&p)
	assert.Greater(t, float64(p.Spread), float64(cropOf(t, "chard").Spread)+0.4)
}

// An hour that cannot be stepped leaves its class unknown with the reason.
func TestAClassThatCannotBeSteppedSaysWhy(t *testing.T) {
	s := season(t, 10*24)
	s.Past[100].Wind = unit.Some(900.0)
	_, _, err := (&Reader{}).Try(s, aGroup(t, "chard"), nil)
	assert.ErrorContains(t, err, "past hour "+s.Past[100].At.Format(time.RFC3339))
	assert.ErrorContains(t, err, "wind 900")
}

func TestBetween(t *testing.T) {
	s := season(t, 48)
	assert.Len(t, s.Between(s.Start, hourNow), 48)
	assert.Len(t, s.Between(hourNow.Add(-3*time.Hour), hourNow.Add(9*time.Hour)), 3)
	assert.Empty(t, s.Between(hourNow, hourNow))
	assert.Empty(t, s.Between(hourNow, s.Start))
	assert.Equal(t, s.Start, s.Between(s.Start.Add(-time.Hour), hourNow)[0].At)
}
