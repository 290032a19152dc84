package hardiness

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

// leafBelowAir is how far a leaf is below the air low that a grower reads, K.
// Facts of the trade speak of the air; the model is asked about the leaf. The
// catalogue lowers list figures by the same amount.
const leafBelowAir = float64(crop.ListDepression)

// course is hourly tissue temperatures.
type course []unit.Celsius

// day is 24 hours from noon to noon, a sinus with its low in the small hours.
func day(low, high float64) course {
	c := make(course, 24)
	mean, swing := (low+high)/2, (high-low)/2
	for h := range c {
		c[h] = unit.Celsius(mean - swing*math.Cos(2*math.Pi*float64(h-17)/24))
	}
	return c
}

func days(n int, low, high float64) (c course) {
	for range n {
		c = append(c, day(low, high)...)
	}
	return c
}

// cooling is n days whose mean falls evenly from one value to another.
func cooling(n int, from, to, swing float64) (c course) {
	for i := range n {
		mean := from + (to-from)*float64(i)/float64(n-1)
		c = append(c, day(mean-swing, mean+swing)...)
	}
	return c
}

// hold is a constant temperature.
func hold(hours int, t float64) (c course) {
	for range hours {
		c = append(c, unit.Celsius(t))
	}
	return c
}

func (c course) then(next ...course) course {
	out := append(course{}, c...)
	for _, n := range next {
		out = append(out, n...)
	}
	return out
}

// colder lowers every hour.
func (c course) colder(k float64) course {
	out := make(course, len(c))
	for i, t := range c {
		out[i] = t - unit.Celsius(k)
	}
	return out
}

func fahrenheit(f float64) float64 { return float64(unit.FromFahrenheit(f)) }

// night is a day whose air low is given in °F, with an afternoon 10 K warmer.
func night(lowF float64) course { return day(fahrenheit(lowF), fahrenheit(lowF)+10) }

func nights(n int, lowF float64) (c course) {
	for range n {
		c = append(c, night(lowF)...)
	}
	return c
}

func find(t testing.TB, name string) crop.Crop {
	t.Helper()
	cat, err := crop.Default()
	require.NoError(t, err)
	c, err := cat.Find(name)
	require.NoError(t, err)
	return c
}

// play runs the sold organ from unhardened through a course of leaf temperatures.
func play(t testing.TB, c crop.Crop, leaf course) State {
	t.Helper()
	s, err := steps(ForSold(c), Start(c.Sold, c.Sold.Unhardened), leaf)
	require.NoError(t, err)
	return s
}

// bare is a Params without margin, chill or offset.
func bare(l0, l1, lm, rate, loss, width float64) Params {
	return Params{Hardening: crop.Hardening{
		Unhardened: unit.Celsius(l0), Cold: unit.Celsius(l1), Full: unit.Celsius(lm),
		Rate: rate, LossRate: loss, Width: unit.Kelvins(width),
	}}
}

func advance(t testing.TB, p Params, s State, c course) State {
	t.Helper()
	s, err := steps(p, s, c)
	require.NoError(t, err)
	return s
}

// steps takes a step for every hour of a course.
func steps(p Params, s State, course []unit.Celsius) (State, error) {
	for i, t := range course {
		var err error
		if s, err = Step(p, s, t); err != nil {
			return s, fmt.Errorf("hour %d: %w", i, err)
		}
	}
	return s, nil
}
