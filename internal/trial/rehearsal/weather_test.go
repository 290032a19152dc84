package rehearsal

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// lows are the night minima of the story, by night.
func lows(w Winter, from, to time.Time) map[farm.Day]unit.Celsius {
	zone, _ := time.LoadLocation(zoneName)
	out := map[farm.Day]unit.Celsius{}
	for _, h := range w.Past(from, to) {
		air, _ := h.Air.Get()
		night := farm.NightOf(h.At, zone)
		if was, ok := out[night]; !ok || air < was {
			out[night] = air
		}
	}
	return out
}

func TestTheStoryHasAMildAutumnAndASnap(t *testing.T) {
	w := Story()
	before := lows(w, Opening, Eve)
	mildest := unit.Celsius(0)
	for _, low := range before {
		mildest = min(mildest, low)
	}
	assert.Greater(t, float64(mildest), -7.0, "nothing kills before the snap")
	snap := lows(w, Eve, Eve.AddDate(0, 0, 4))["2025-11-12"]
	assert.InDelta(t, -11, float64(snap), 2.5, "the snap is deep enough to end chard, and kale lives")
	for _, d := range []farm.Day{"2025-10-05", "2025-10-23", "2025-11-08", "2025-11-09", "2025-11-10", "2025-11-11", "2025-11-12", "2025-11-13"} {
		t.Log(d, lows(w, Opening, Eve.AddDate(0, 0, 6))[d])
	}
}

func TestTheSameSeedIsTheSameWinter(t *testing.T) {
	assert.Equal(t, Story().Forecast(Eve, 48), Story().Forecast(Eve, 48))
}

func TestAForecastIsWorseTheFurtherItLooks(t *testing.T) {
	w, near, far, n := Story(), 0.0, 0.0, 0
	for at := Opening; at.Before(Ending); at = at.Add(36 * time.Hour) {
		f := w.Forecast(at, horizon)
		truth := func(i int) float64 { a, _ := w.At(f[i].At).Air.Get(); return float64(a) }
		said := func(i int) float64 { a, _ := f[i].Air.Get(); return float64(a) }
		near += (said(6) - truth(6)) * (said(6) - truth(6))
		far += (said(150) - truth(150)) * (said(150) - truth(150))
		n++
	}
	assert.Greater(t, far, 4*near)
}
