package hardiness

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// anyCrop draws a crop of the catalogue.
func anyCrop(t *rapid.T) crop.Crop {
	cat, err := crop.Default()
	require.NoError(t, err)
	var names []string
	for _, c := range cat.All() {
		names = append(names, c.Name)
	}
	c, err := cat.Find(rapid.SampledFrom(names).Draw(t, "crop"))
	require.NoError(t, err)
	return c
}

// weather draws days of any kind, from summer to deep frost.
func weather(t *rapid.T, most int) (c course) {
	for range rapid.IntRange(1, most).Draw(t, "days") {
		low := rapid.Float64Range(-30, 15).Draw(t, "low")
		c = append(c, day(low, low+rapid.Float64Range(0, 18).Draw(t, "range"))...)
	}
	return c
}

func begun(t *rapid.T, c crop.Crop) (Params, State) {
	p := ForSold(c)
	p.Offset = unit.Kelvins(rapid.Float64Range(-3, 3).Draw(t, "offset"))
	start := rapid.Float64Range(float64(c.Sold.Full), float64(c.Sold.Unhardened)).Draw(t, "start")
	return p, Start(c.Sold, unit.Celsius(start))
}

func TestPropertySharesAndToleranceStayInBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		p, s := begun(t, c)
		for _, tissue := range weather(t, 12) {
			next, err := Step(p, s, tissue)
			require.NoError(t, err)
			require.LessOrEqual(t, next.LT50, c.Sold.Unhardened)
			require.GreaterOrEqual(t, next.LT50, c.Sold.Full)
			require.LessOrEqual(t, next.Survival, s.Survival, "what is dead stays dead")
			require.LessOrEqual(t, next.Quality, s.Quality)
			require.GreaterOrEqual(t, next.Quality, 0.0)
			require.LessOrEqual(t, next.Quality, next.Survival, "nothing dead is fit to sell")
			s = next
		}
	})
}

func TestPropertySavedAndResumedIsTheSameBits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, s := begun(t, anyCrop(t))
		hours := weather(t, 12)
		at := rapid.IntRange(0, len(hours)).Draw(t, "saved at")
		through, err := steps(p, s, hours)
		require.NoError(t, err)

		half, err := steps(p, s, hours[:at])
		require.NoError(t, err)
		b, err := json.Marshal(half)
		require.NoError(t, err)
		var back State
		require.NoError(t, json.Unmarshal(b, &back))
		resumed, err := steps(p, back, hours[at:])
		require.NoError(t, err)
		require.Equal(t, through, resumed)
	})
}

// Same past, one hour of frost: the colder one never leaves more.
func TestPropertyAColderHourIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, s := begun(t, anyCrop(t))
		s, err := steps(p, s, weather(t, 6))
		require.NoError(t, err)
		mild := rapid.Float64Range(-25, 5).Draw(t, "mild")
		cold := mild - rapid.Float64Range(0, 15).Draw(t, "by")
		a, err := Step(p, s, unit.Celsius(mild))
		require.NoError(t, err)
		b, err := Step(p, s, unit.Celsius(cold))
		require.NoError(t, err)
		require.LessOrEqual(t, b.Survival, a.Survival)
		if mild < 0 { // above 0 °C the chill clock runs by hours, not by depth
			require.LessOrEqual(t, b.Quality, a.Quality)
		}
	})
}

// Same past, one night of frost in one piece: colder throughout by half a
// degree or more never leaves more.
func TestPropertyAColderNightIsNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, s := begun(t, anyCrop(t))
		s, err := steps(p, s, weather(t, 6).then(hold(3, 4)))
		require.NoError(t, err)
		low := rapid.Float64Range(-22, -1).Draw(t, "low")
		frost := day(low, low+8)
		by := rapid.Float64Range(0.5, 10).Draw(t, "by")
		a, err := steps(p, s, frost[9:])
		require.NoError(t, err)
		b, err := steps(p, s, frost.colder(by)[9:])
		require.NoError(t, err)
		require.LessOrEqual(t, b.Survival, a.Survival)
	})
}

// The hardier of two plants never comes out worse of the same weather, whether
// it is hardier by what it has gained or by its offset. Two hundredths are
// allowed: the softer one pays the cost of a freeze earlier in a long frost and
// has longer to make it good.
func TestPropertyHardierIsNeverWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, s := begun(t, anyCrop(t))
		hours := weather(t, 10)
		tough, gained := p, s
		tough.Offset -= unit.Kelvins(rapid.Float64Range(0, 3).Draw(t, "tougher"))
		gained.LT50 = within(p.Hardening, s.LT50-unit.Celsius(rapid.Float64Range(0, 5).Draw(t, "gained")))
		a, err := steps(p, s, hours)
		require.NoError(t, err)
		b, err := steps(tough, gained, hours)
		require.NoError(t, err)
		require.GreaterOrEqual(t, b.Survival, a.Survival-0.02)
		require.GreaterOrEqual(t, b.Quality, a.Quality-0.02)
	})
}

// Slow cooling hardens every crop that can; a sudden freeze hardens none.
func TestPropertySlowCoolingHardensSuddenFreezeDoesNot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCrop(t)
		span := float64(c.Sold.Unhardened - c.Sold.Full)
		if c.Sold.Rate == 0 {
			return
		}
		p := ForSold(c)
		weeks := rapid.IntRange(6, 12).Draw(t, "weeks")
		slow, err := steps(p, Start(c.Sold, c.Sold.Unhardened), cooling(7*weeks, 14, 0, 1))
		require.NoError(t, err)
		require.Less(t, float64(slow.LT50), float64(c.Sold.Unhardened)-0.35*span)

		freeze := rapid.Float64Range(-25, -6).Draw(t, "freeze")
		sudden, err := steps(p, Start(c.Sold, c.Sold.Unhardened), hold(14*24, 15).then(hold(48, freeze)))
		require.NoError(t, err)
		require.Equal(t, c.Sold.Unhardened, sudden.LT50)
	})
}
