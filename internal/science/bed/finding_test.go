package bed_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/hardiness"
	"winterstand/internal/unit"
)

var nan = math.NaN()

// frozen is a class and book in which one hard night kills an unhardened chard.
func frozen(t ftest, p bed.Plant, low float64) bed.State {
	class := open(p.Crop)
	plants := []bed.Plant{p}
	b := bed.NewBook(&class, plants, noon)
	s := b.Plants[p.Key()]
	s.Sold.LT50 = p.Crop.Sold.Unhardened
	b.Plants[p.Key()] = s
	require.NoError(t, b.Advance(&class, plants, append(night(noon, 3, low), steady(noon.Add(24*time.Hour), 6, 3)...)))
	return b.Plants[p.Key()]
}

func TestTheHourOfLossIsKept(t *testing.T) {
	s := frozen(t, plantsOf(t, "chard")[0], -13)
	require.NotZero(t, s.Lost)
	lost := time.Unix(s.Lost, 0).UTC()
	assert.Equal(t, farm.Day("2025-11-14"), farm.NightOf(lost, time.FixedZone("CST", -6*3600)))
	assert.Less(t, s.Low, 0.0, "the air of that hour is kept with it")
	assert.GreaterOrEqual(t, s.Died.At, s.Lost, "life goes no sooner than quality")
	assert.Greater(t, s.Loss(), bed.LossShare)

	mild := frozen(t, plantsOf(t, "chard")[0], -1)
	assert.Zero(t, mild.Lost)
	assert.Zero(t, mild.Died)
}

// The crown of a spinach has its own hour; a crop that does not regrow has none.
func TestTheCrownHasItsOwnHour(t *testing.T) {
	p := plantsOf(t, "spinach")[0]
	class := open(p.Crop)
	plants := []bed.Plant{p}
	b := bed.NewBook(&class, plants, noon)
	s := b.Plants[p.Key()]
	s.Sold.LT50, s.Crown.LT50 = p.Crop.Sold.Unhardened, -0.5
	b.Plants[p.Key()] = s
	require.NoError(t, b.Advance(&class, plants, steady(noon, 72, -15)))
	got := b.Plants[p.Key()]
	assert.NotZero(t, got.CrownDied.At, "%+v", got)
	assert.InDelta(t, -15, got.CrownDied.Low, 1e-9)
	assert.Zero(t, frozen(t, plantsOf(t, "kale-curly")[0], -20).CrownDied, "kale keeps no crown")
}

// A finding is the truth: loss is counted anew from what was left.
func TestAFindingSetsTheLossBack(t *testing.T) {
	at := noon.Add(24 * time.Hour).Unix()
	for _, c := range []struct {
		name          string
		left          float64
		loss          float64
		lost, nothing bool
	}{
		{"all came through", 1, 0, false, false},
		{"half is left", 0.5, 0, false, false},
		{"nothing is left", 0, 0, true, true},
	} {
		p := plantsOf(t, "chard")[0]
		p.Found = []bed.Finding{{At: at, Left: c.left}}
		s := frozen(t, p, -13)
		assert.InDelta(t, c.loss, s.Loss(), 1e-12, c.name)
		assert.Equal(t, c.lost, s.Lost != 0, c.name)
		assert.Equal(t, c.nothing, s.NothingLeft(), c.name)
		assert.InDelta(t, c.left, s.Sold.Quality, 1e-12, c.name)
		if c.left > 0 {
			assert.Zero(t, s.Died, c.name)
			assert.Equal(t, 1.0, s.Sold.Survival, "%s: what is left lives", c.name)
		}
	}
}

// A frost that goes on over the noon of a finding begins anew with it: from what
// was found it takes its damage whole, not only what it is deeper than before.
// EventDamage and EventKill are by their definition the share that the running
// frost has taken.
func TestARunningFrostTakesFromWhatWasFound(t *testing.T) {
	for organ, c := range map[string]struct {
		hours int
		air   float64
		of    func(bed.State) hardiness.State
		left  float64
	}{
		"leaf":  {24, -4.5, func(s bed.State) hardiness.State { return s.Sold }, 0.5},
		"crown": {72, -11, func(s bed.State) hardiness.State { return s.Crown }, 1},
	} {
		p := plantsOf(t, "spinach")[0]
		found := noon.Add(time.Duration(c.hours) * time.Hour)
		p.Found = []bed.Finding{{At: found.Unix(), Left: 0.5}}
		class := open(p.Crop)
		plants := []bed.Plant{p}
		b := bed.NewBook(&class, plants, noon)
		hardened(&b, p, 0)
		require.NoError(t, b.Advance(&class, plants, steady(noon, c.hours, c.air)))
		partly(t, c.of(b.Plants[p.Key()]), organ)
		require.NoError(t, b.Advance(&class, plants, steady(found, 2, c.air-0.1)))
		after := c.of(b.Plants[p.Key()])
		partly(t, after, organ)
		assert.InDelta(t, 1-after.EventKill, after.Survival, 1e-12, organ)
		assert.InDelta(t, c.left*(1-after.EventDamage), after.Quality, 1e-12, organ)
	}
}

// partly: the running frost has taken some of an organ, and not all.
func partly(t ftest, s hardiness.State, organ string) {
	require.True(t, s.EventKill > 0.05 && s.EventKill < 0.95, "%s: %+v", organ, s)
	require.Less(t, s.EventDamage, 0.95, "%s: %+v", organ, s)
}

// A finding speaks of the night before its noon.
func TestWhatWasFoundGoneWentInTheNightBefore(t *testing.T) {
	zone := time.FixedZone("CST", -6*3600)
	p := plantsOf(t, "chard")[0]
	p.Found = []bed.Finding{{At: bed.FindingAt("2025-11-14", zone), Left: 0}}
	assert.Equal(t, noon.Add(24*time.Hour).Unix(), p.Found[0].At)
	s := frozen(t, p, -1)
	assert.Equal(t, farm.Day("2025-11-14"), farm.NightOf(time.Unix(s.Lost, 0), zone))
}

// Plants are told apart by all that their state depends on.
func TestKeysTellPlantsApart(t *testing.T) {
	base := plantsOf(t, "chard")[0]
	seen := map[string]string{base.Key(): "base"}
	for name, change := range map[string]func(*bed.Plant){
		"another crop":          func(p *bed.Plant) { p.Crop = cropOf(t, "kale-curly") },
		"another tolerance":     func(p *bed.Plant) { p.Offset = unit.Kelvins(-0.5) },
		"sown on another day":   func(p *bed.Plant) { p.Since = september },
		"found damaged":         func(p *bed.Plant) { p.Found = []bed.Finding{{At: 3600, Left: 0.5}} },
		"found more damaged":    func(p *bed.Plant) { p.Found = []bed.Finding{{At: 3600, Left: 0.25}} },
		"found so another day":  func(p *bed.Plant) { p.Found = []bed.Finding{{At: 7200, Left: 0.5}} },
		"found damaged twice":   func(p *bed.Plant) { p.Found = []bed.Finding{{At: 3600, Left: 0.5}, {At: 7200, Left: 0.5}} },
		"found as good as gone": func(p *bed.Plant) { p.Found = []bed.Finding{{At: 3600, Left: 1e-9}} },
	} {
		p := base
		change(&p)
		other, taken := seen[p.Key()]
		assert.False(t, taken, "%s has the key of %s", name, other)
		seen[p.Key()] = name
	}
	same := plantsOf(t, "chard")[0]
	assert.Equal(t, base.Key(), same.Key())
}
