package microclimate

import (
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
