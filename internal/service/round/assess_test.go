package round

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

func aPlot(t require.TestingT, b farm.Bed) plot {
	c := cropOf(t, b.Crop)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return plot{bed: b, owner: farm.New("Hill Farm", hourNow), zone: zone, spread: c.Spread, plant: bed.Plant{Crop: c},
		class: bed.ClassOf(site, farm.Field{}, b, microclimate.FieldBias{}, nil, zone).Growing(c)}
}

func aGroup(t require.TestingT, names ...string) *classGroup {
	var plots []plot
	for _, n := range names {
		plots = append(plots, aPlot(t, farm.Bed{Crop: n}))
	}
	groups := grouped(plots)
	require.Len(t, groups, 1)
	return groups[0]
}

// Beds that share ground are one class; equal plants in it are one plant; what
// cannot be judged is in none.
func TestBedsAreGathered(t *testing.T) {
	chard, again, kale := aPlot(t, farm.Bed{ID: 1, Crop: "chard"}), aPlot(t, farm.Bed{ID: 2, Crop: "chard"}), aPlot(t, farm.Bed{ID: 3, Crop: "kale-curly"})
	sure, broken := again, again
	sure.spread /= 2
	broken.broken = "crop unknown"
	covered := aPlot(t, farm.Bed{ID: 4, Crop: "chard", Covers: []farm.Cover{{Kind: "low_tunnel", On: "2025-10-01"}}})
	groups := grouped([]plot{chard, again, kale, sure, broken, covered})
	require.Len(t, groups, 2)
	assert.Equal(t, []int{0, 1, 2, 3}, groups[0].plots)
	assert.Len(t, groups[0].plants, 3, "chard, kale, and chard that is better known")
	assert.Equal(t, []int{5}, groups[1].plots)
	again2 := grouped([]plot{chard, again, kale, sure, broken, covered})
	assert.Equal(t, groups[0].plants, again2[0].plants, "always in the same order")
}

// season is a scene with so many hours behind it.
func season(t require.TestingT, n int) *scene {
	s := looked(complete(hourNow))
	s.remember(history(n, func(i int) unit.Maybe[unit.Celsius] {
		day := float64(i) / 24
		return unit.Some(unit.Celsius(14 - day/5 - 6*math.Cos(2*math.Pi*day) + 3*math.Sin(day)))
	}), hourNow)
	s.members, s.spread = verdict.Dress(s.doc.Body, s.coming, s.now, 9, "season")
	require.Empty(t, s.missing)
	return s
}

// From a checkpoint or from the start of the history, the same bits.
func TestACheckpointChangesNothing(t *testing.T) {
	g := aGroup(t, "chard", "kale-curly", "spinach")
	s := season(t, 60*24)
	straight, checkpoint, err := advance(s, g, nil)
	require.NoError(t, err)
	require.NotNil(t, checkpoint)
	assert.Equal(t, hourNow.Add(-settledAfter), checkpoint.AsOf)
	assert.Equal(t, hourNow, straight.Ground.At())
	saved := map[string]store.Checkpoint{checkpointKey(s, g): *checkpoint}

	resumed, again, err := advance(s, g, saved)
	require.NoError(t, err)
	assert.Nil(t, again, "there is nothing newer to keep")
	assert.Equal(t, straight, resumed)

	s.now = s.now.Add(5 * time.Hour) // the next rounds take over hours that have passed
	s.past = append(s.past, s.coming[:5]...)
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
	key := checkpointKey(s, g)
	for name, saved := range map[string]store.Checkpoint{
		"broken":          {AsOf: checkpoint.AsOf, Body: []byte("{")},
		"from the future": {AsOf: hourNow.Add(48 * time.Hour), Body: checkpoint.Body},
	} {
		book, at := resume(s, g, map[string]store.Checkpoint{key: saved})
		assert.Equal(t, s.start, at, name)
		assert.Equal(t, s.start, book.Ground.At(), name)
	}
	more := aGroup(t, "chard", "kale-curly")
	_, at := resume(s, more, map[string]store.Checkpoint{checkpointKey(s, more): *checkpoint})
	assert.Equal(t, s.start, at, "a plant that it does not know")

	longer := season(t, 21*24)
	assert.NotEqual(t, key, checkpointKey(longer, g), "a history that begins sooner")
	covered := aPlot(t, farm.Bed{Crop: "chard", Covers: []farm.Cover{{Kind: "low_tunnel", On: "2025-10-01"}}})
	assert.NotEqual(t, key, checkpointKey(s, grouped([]plot{covered})[0]))
}

// A verdict is signed with what it rests on.
func TestAVerdictSaysWhatItRestsOn(t *testing.T) {
	p := aPlot(t, farm.Bed{ID: 1, Crop: "chard", Mulches: []farm.Mulch{{Cm: 8}}})
	s := season(t, 10*24)
	s.doc.ID, s.doc.Source, s.doc.Issued = 7, "nws", hourNow.Add(-time.Hour)
	s.doc.Body.Place, s.doc.Body.Credit = "DLH/89,91", "NOAA"
	a, _, err := (&Watcher{}).assess(s, grouped([]plot{p})[0], nil)
	require.NoError(t, err)
	v := a.verdictOf(s, &p, limitsOf(p.owner))
	assert.Equal(t, farm.Basis{ID: 7, Source: "nws", Place: "DLH/89,91", Issued: s.doc.Issued, Credit: "NOAA"}, v.Forecast)
	assert.Equal(t, 240, v.HistoryHours)
	assert.True(t, v.DefaultStart)
	assert.Equal(t, verdict.FromDressing, v.Spread)
	assert.Equal(t, 9, v.Members)
	assert.Equal(t, "none", v.Cover)
	assert.Equal(t, 8.0, v.MulchCm)
	assert.Equal(t, 0.2, v.CostLoss)
	blind := s.cannotSee(&p, farm.Holes, []string{"wind"})
	assert.Equal(t, farm.Unknown, blind.State)
	assert.Equal(t, farm.Holes, blind.Blind)
	assert.Equal(t, []string{"wind"}, blind.Missing)
	assert.False(t, blind.Likelihood.Known(), "unknown is no likelihood of zero")
}

// With little known of the past the tolerance is less sure, the less the less.
func TestAGuessIsWide(t *testing.T) {
	p := aPlot(t, farm.Bed{Crop: "chard"})
	last := math.Inf(1)
	for _, days := range []int{0, 3, 8, 12, 14, 40} {
		k := &knowledge{s: season(t, 24*days)}
		q := p
		k.guess(&q)
		assert.LessOrEqual(t, float64(q.spread), last, "%d days", days)
		if days >= 14 {
			assert.Equal(t, p.spread, q.spread, "%d days", days)
		}
		last = float64(q.spread)
	}
	k := &knowledge{s: season(t, 0)}
	k.guess(&p)
	assert.Greater(t, float64(p.spread), float64(cropOf(t, "chard").Spread)+0.4)
}

// An hour that cannot be stepped leaves its class unknown with the reason.
func TestAClassThatCannotBeSteppedSaysWhy(t *testing.T) {
	s := season(t, 10*24)
	s.past[100].Wind = unit.Some(900.0)
	_, _, err := (&Watcher{}).assess(s, aGroup(t, "chard"), nil)
	assert.ErrorContains(t, err, "past hour "+s.past[100].At.Format(time.RFC3339))
	assert.ErrorContains(t, err, "wind 900")
}

func TestBetween(t *testing.T) {
	s := season(t, 48)
	assert.Len(t, between(s, s.start, hourNow), 48)
	assert.Len(t, between(s, hourNow.Add(-3*time.Hour), hourNow.Add(9*time.Hour)), 3)
	assert.Empty(t, between(s, hourNow, hourNow))
	assert.Empty(t, between(s, hourNow, s.start))
	assert.Equal(t, s.start, between(s, s.start.Add(-time.Hour), hourNow)[0].At)
}
