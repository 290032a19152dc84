package microclimate

import (
	"errors"
	"fmt"
	"math"

	"winterstand/internal/unit"
)

// Rules for a night of which little is known: Snyder & de Melo-Abreu 2005, Frost
// protection, FAO Environment and Natural Resources Series 10, vol. 1, ch. 5.

// NightTrend is the air temperature i hours after sunset on a frost night of n
// hours, from the temperature two hours after sunset and the minimum at sunrise.
// It begins at i = 2.
func NightTrend(twoAfterSunset, minimum unit.Celsius, i, n float64) unit.Celsius {
	if i <= 2 || n <= 2 {
		return twoAfterSunset
	}
	share := math.Sqrt(math.Min(1, (i-2)/(n-2)))
	return twoAfterSunset + unit.Celsius(share*float64(minimum-twoAfterSunset))
}

// NightRegression predicts a night's minimum from air and dew point two hours
// after sunset: minimum = A·air + B·dew + C.
type NightRegression struct{ A, B, C float64 }

// Predict the minimum.
func (r NightRegression) Predict(air, dew unit.Celsius) unit.Celsius {
	return unit.Celsius(r.A*float64(air) + r.B*float64(dew) + r.C)
}

// FitNights fits the regression to past frost nights as the manual does: a
// straight line on the air temperature, then one on the dew point for what that
// left over. It needs at least three nights that differ, and as many dew points
// and minima as airs.
func FitNights(air, dew, minimum []unit.Celsius) (NightRegression, error) {
	if len(dew) != len(air) || len(minimum) != len(air) {
		return NightRegression{}, fmt.Errorf("fit nights: %d air, %d dew and %d minimum temperatures: must be as many of each", len(air), len(dew), len(minimum))
	}
	a, c1, ok := line(air, minimum)
	if !ok {
		return NightRegression{}, errSameNights
	}
	rest := make([]unit.Celsius, len(air))
	for i := range air {
		rest[i] = minimum[i] - unit.Celsius(a*float64(air[i])+c1)
	}
	b, c2, ok := line(dew, rest)
	if !ok {
		return NightRegression{}, errSameNights
	}
	return NightRegression{A: a, B: b, C: c1 + c2}, nil
}

// line is the least-squares line through the points; not ok where there is none.
func line(x, y []unit.Celsius) (slope, intercept float64, ok bool) {
	if len(x) < 3 {
		return 0, 0, false
	}
	n, mx, my := float64(len(x)), 0.0, 0.0
	for i := range x {
		mx += float64(x[i]) / n
		my += float64(y[i]) / n
	}
	sxx, sxy := 0.0, 0.0
	for i := range x {
		dx := float64(x[i]) - mx
		sxx += dx * dx
		sxy += dx * (float64(y[i]) - my)
	}
	slope = sxy / sxx
	intercept = my - slope*mx
	return slope, intercept, sxx > 1e-9 && !math.IsNaN(intercept)
}

var errSameNights = errors.New("fit nights: at least three nights that differ are needed, with no value missing")
