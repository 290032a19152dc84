package verdict_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// through judges a bed of some hardness by what is certain to come.
func through(t *testing.T, name string, hard float64, snowCm float64, hours []weather.Hour) farm.Verdict {
	p := bed.Plant{Crop: cropOf(t, name)}
	class := bed.ClassOf(placed(farm.Field{}, time.UTC), farm.Bed{}, microclimate.FieldBias{}, nil).Growing(p.Crop)
	if snowCm > 0 {
		class.Snow = []bed.SnowReading{{At: hours[0].At.Unix(), Cm: snowCm}}
	}
	book := bed.NewBook(&class, []bed.Plant{p}, hours[0].At)
	s := book.Plants[p.Key()]
	s.Sold.LT50 = p.Crop.Sold.Unhardened + unit.Celsius(hard)*(p.Crop.Sold.Full-p.Crop.Sold.Unhardened)
	book.Plants[p.Key()] = s
	courses, err := bed.Try(&book, &class, []bed.Plant{p}, []unit.Kelvins{0}, hours, []bed.Member{{Error: make([]unit.Kelvins, len(hours))}})
	require.NoError(t, err)
	return verdict.Judge(verdict.Question{Now: hours[0].At, Zone: zoneOf(t, "America/Chicago"), Plant: &p, Start: s, Purpose: farm.Fresh, CostLoss: 0.2,
		Site: &north, Hours: hours, Courses: courses[0], Limits: bed.Limits{WindChill: -20, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm}})
}

// days are clear ones from local noon on, n times from warm to cold and back.
func days(n int, warm, cold float64) []weather.Hour {
	noon := time.Date(2025, 11, 24, 18, 0, 0, 0, time.UTC)
	var out []weather.Hour
	for d := range n {
		out = append(out, clearNight(noon.Add(time.Duration(24*d)*time.Hour), warm, cold)...)
	}
	return out
}

// Facts of the trade through ground, leaf and judge; all of them common
// practice, no source. Temperatures are air lows as a grower reads them.
func TestFactsOfTheTrade(t *testing.T) {
	f := func(degrees float64) float64 { return float64(unit.FromFahrenheit(degrees)) }
	lost := func(v farm.Verdict) bool { return v.Nights[len(v.Nights)-1].Likelihood == 1 }

	frozen := through(t, "spinach", 1, 0, days(3, -3, f(15)))
	assert.False(t, lost(frozen), "hardened spinach freezes solid at 15 °F and is fine once thawed")
	assert.Empty(t, frozen.Windows, "but there is no harvest while it is frozen")
	thawed := through(t, "spinach", 1, 0, append(days(2, -3, f(15)), shifted24(days(1, 6, 2), 2)...))
	assert.NotEmpty(t, thawed.Windows, "once thawed there is")

	assert.False(t, lost(through(t, "chard", 0.8, 0, days(1, 8, f(20)))), "chard stands to about 20 °F in a normal autumn")
	assert.True(t, lost(through(t, "chard", 0, 0, days(1, 12, f(8)))), "straight from mild weather to 8 °F it is lost")
	assert.False(t, lost(through(t, "kale-curly", 0.95, 0, days(1, 8, f(15)))), "hardened kale stands to about 15 °F")
	assert.True(t, lost(through(t, "tomato", 0, 0, days(1, 12, f(28)))), "tomatoes die at the first frost")

	assert.True(t, lost(through(t, "carrot", 0, 0, days(3, f(20), f(-10)))), "far below 8 °F carrots must be out")
	assert.False(t, lost(through(t, "carrot", 0, 30, days(3, f(20), f(-10)))), "under snow their shoulders do not freeze")

	for name, want := range map[string]bool{"spinach": false, "kale-curly": true} {
		v := through(t, name, 0.8, 20, days(2, 3, -4))
		assert.Equal(t, want, len(v.Windows) > 0, "20 cm of snow slows the harvest of low leaves long before it stops kale: %s", name)
	}
}

// shifted24 moves hours so many days on.
func shifted24(hours []weather.Hour, days int) []weather.Hour {
	for i := range hours {
		hours[i].At = hours[i].At.Add(time.Duration(24*days) * time.Hour)
	}
	return hours
}
