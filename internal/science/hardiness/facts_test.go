package hardiness

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Facts of the trade: common practice, no source. Temperatures are air lows as
// a grower reads them, so the leaf is run 1 K colder (leafBelowAir): the model
// knows only tissue. Days are hourly sinuses with the low before dawn.

// mild is three weeks of late summer: nothing hardens.
func mild() course { return days(21, 9, 20) }

// ordinaryAutumn comes down evenly in six weeks to nights of about −3.5 °C.
func ordinaryAutumn() course { return mild().then(cooling(42, 13, 2, 5.5)) }

// slowAutumn is lows of 27 °F, two weeks later 23 °F, with what lies between
// held at those lows; the third, 15 °F, is the night asked about.
func slowAutumn() course {
	return mild().then(cooling(21, 12, 3.5, 5.5), nights(14, 27), nights(14, 23))
}

// slowAutumnMild is the same three nights with mild fortnights between them.
func slowAutumnMild() course {
	return mild().then(cooling(21, 12, 3.5, 5.5), night(27), days(13, 0, 9), night(23), days(13, -1, 8))
}

func lowOf(t *testing.T, name string, before course, lowF float64) State {
	t.Helper()
	s := play(t, find(t, name), before.then(night(lowF)).colder(leafBelowAir))
	t.Logf("%-20s low %g °F: LT50 %.1f °C, survival %.2f, quality %.2f", name, lowF, float64(s.LT50), s.Survival, s.Quality)
	return s
}

func TestFactChardStandsToTwentyInANormalAutumn(t *testing.T) {
	s := lowOf(t, "chard", ordinaryAutumn(), 20)
	assert.Greater(t, s.Survival, 0.9)
	assert.Greater(t, s.Quality, 0.8, "not lost")
}

func TestFactChardStraightFromMildToEightIsLost(t *testing.T) {
	assert.Less(t, lowOf(t, "chard", mild(), 8).Survival, 0.05)
}

func TestFactChardComesThroughASlowCourse(t *testing.T) {
	assert.Greater(t, lowOf(t, "chard", slowAutumn(), 15).Survival, 0.85)
	assert.Greater(t, lowOf(t, "chard", slowAutumnMild(), 15).Survival, 0.75)
}

// A step of a day at the daily mean fails the same fact, which is why the step
// is an hour: the frosty nights that harden vanish in the mean.
func TestADailyMeanStepWouldLoseTheSlowCourse(t *testing.T) {
	c := find(t, "chard")
	hourly := slowAutumnMild().colder(leafBelowAir)
	var means course
	for d := 0; d < len(hourly); d += 24 {
		sum := 0.0
		for _, at := range hourly[d : d+24] {
			sum += float64(at)
		}
		means = means.then(hold(24, sum/24))
	}
	byDay := advance(t, ForSold(c), Start(c.Sold, c.Sold.Unhardened), means)
	byHour := advance(t, ForSold(c), Start(c.Sold, c.Sold.Unhardened), hourly)
	assert.Greater(t, float64(byDay.LT50), float64(byHour.LT50)+1.5)
}

func TestFactKaleStandsToFifteenAndIsTougherThanChard(t *testing.T) {
	kale := lowOf(t, "kale", slowAutumn(), 15)
	assert.Greater(t, kale.Survival, 0.95)
	assert.Greater(t, kale.Quality, 0.85)
	assert.Greater(t, lowOf(t, "kale", ordinaryAutumn(), 15).Survival, 0.85)
	for _, autumn := range []course{mild(), ordinaryAutumn(), slowAutumn(), slowAutumnMild()} {
		for _, low := range []float64{23, 20, 15, 12, 8} {
			assert.GreaterOrEqual(t, lowOf(t, "kale", autumn, low).Survival, lowOf(t, "chard", autumn, low).Survival)
		}
	}
	assert.Less(t, lowOf(t, "kale", slowAutumn(), 0).Survival, 0.05, "but not to 0 °F")
}

func TestFactFrozenSpinachIsSoundAfterTheThaw(t *testing.T) {
	for _, low := range []float64{20, 17, 15} {
		s := lowOf(t, "spinach", ordinaryAutumn(), low)
		assert.Equal(t, 1.0, s.Survival)
		assert.Equal(t, 1.0, s.Quality)
	}
}

func TestFactSpinachIsTheToughestLeaf(t *testing.T) {
	spinach := find(t, "spinach")
	for _, name := range []string{"kale", "chard", "collards", "corn-salad", "claytonia", "tatsoi", "komatsuna", "arugula", "mustard", "lettuce-small"} {
		assert.Less(t, spinach.Sold.Full, find(t, name).Sold.Full, name)
		assert.GreaterOrEqual(t, lowOf(t, "spinach", slowAutumn(), 7).Survival, lowOf(t, name, slowAutumn(), 7).Survival)
	}
	small, big := lowOf(t, "spinach-small", slowAutumn(), 5), lowOf(t, "spinach", slowAutumn(), 5)
	assert.Greater(t, small.Survival, big.Survival, "small plants are tougher than big")
}

// A winter of −20 °F: the leaves under open sky are lost, the crown at −4 °C
// under snow lives.
func TestFactSpinachRegrowsAfterTwentyBelow(t *testing.T) {
	c := find(t, "spinach")
	assert.Zero(t, lowOf(t, "spinach", slowAutumn().then(nights(14, 15)), -20).Survival)
	p, ok := ForCrown(c)
	assert.True(t, ok)
	soil := cooling(60, 14, 1, 1).then(hold(90*24, -4))
	s := advance(t, p, Start(p.Hardening, p.Hardening.Unhardened), soil)
	assert.Equal(t, 1.0, s.Survival)
}

func TestFactBunchingOnionsSpoilOutsideFirstAndRegrow(t *testing.T) {
	for _, name := range []string{"bunching-onion", "bunching-onion-hardy"} {
		assert.Greater(t, lowOf(t, name, ordinaryAutumn(), 20).Survival, 0.9)
		s := lowOf(t, name, slowAutumn(), 15)
		assert.Greater(t, s.Survival, 0.8)
		assert.Less(t, s.Quality, 0.95, "the outer leaves suffer")
		assert.Less(t, s.Quality, s.Survival)
		p, ok := ForCrown(find(t, name))
		assert.True(t, ok, "regrows")
		soil := cooling(60, 14, 1, 1).then(hold(90*24, -4))
		assert.Equal(t, 1.0, advance(t, p, Start(p.Hardening, p.Hardening.Unhardened), soil).Survival)
	}
	assert.Less(t, lowOf(t, "bunching-onion-hardy", slowAutumn(), 5).Quality, 0.2, "5 °F is too much for the leaves")
}

func TestFactDillAndCilantroToTwentyParsleyTougher(t *testing.T) {
	for _, name := range []string{"dill", "cilantro", "parsley", "parsley-flat"} {
		s := lowOf(t, name, ordinaryAutumn(), 20)
		assert.Greater(t, s.Survival, 0.85, name)
		assert.Greater(t, s.Quality, 0.75, name)
	}
	for _, autumn := range []course{mild(), ordinaryAutumn(), slowAutumn()} {
		for _, low := range []float64{23, 20, 17, 15, 10} {
			parsley, cilantro := lowOf(t, "parsley", autumn, low), lowOf(t, "cilantro", autumn, low)
			assert.GreaterOrEqual(t, parsley.Survival, cilantro.Survival)
			assert.GreaterOrEqual(t, parsley.Quality, cilantro.Quality)
			assert.GreaterOrEqual(t, cilantro.Survival, lowOf(t, "dill", autumn, low).Survival)
		}
	}
	assert.Less(t, lowOf(t, "cilantro", ordinaryAutumn(), 12).Survival, 0.1)
	assert.Less(t, lowOf(t, "dill", ordinaryAutumn(), 12).Survival, 0.1)
}

func TestFactTomatoesDieAtTheFirstFrost(t *testing.T) {
	assert.Equal(t, 1.0, lowOf(t, "tomato", mild(), 36).Survival)
	assert.Less(t, lowOf(t, "tomato", mild(), 31).Quality, 0.6, "31 °F spoils fruit")
	assert.Less(t, lowOf(t, "tomato", mild(), 28).Survival, 0.05, "28 °F kills")
	assert.Less(t, lowOf(t, "tomato", ordinaryAutumn(), 28).Survival, 0.05, "however slowly the cold came")
}

// Salad radishes are tender among the roots: the same cold soil takes them and
// leaves the others.
func TestFactRadishesAreTenderAmongTheRoots(t *testing.T) {
	soil := days(30, 2, 6).then(hold(6, -1.2))
	radish := play(t, find(t, "radish"), soil).Quality
	assert.Less(t, radish, 0.5)
	for _, name := range []string{"carrot", "parsnip", "beet", "turnip", "rutabaga", "celeriac"} {
		assert.Greater(t, play(t, find(t, name), soil).Quality, radish, name)
	}
}
