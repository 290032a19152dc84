package verdict

import (
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// column picks one series of a course.
type column func(*bed.Course) []float32

func airOf(c *bed.Course) []float32            { return c.Air }
func soldOf(c *bed.Course) []float32           { return c.Sold }
func crownOf(c *bed.Course) []float32          { return c.Crown }
func thresholdOf(c *bed.Course) []float32      { return c.Threshold }
func crownThresholdOf(c *bed.Course) []float32 { return c.CrownThreshold }

func snowOf(c *bed.Course) []float32  { return c.Snow }
func frostOf(c *bed.Course) []float32 { return c.Frost }

// judged is the series of the organ that the bed is kept for, and what it stands.
func (q *Question) judged() (tissue, tolerance column) {
	if q.forCrown() {
		return crownOf, crownThresholdOf
	}
	return soldOf, thresholdOf
}

// forCrown: the bed is kept for what regrows in spring.
func (q *Question) forCrown() bool {
	return q.Purpose == farm.Overwinter && q.Plant.Crop.Regrow.Known()
}

// stretch is the hours [first, past) that belong to one night: from local noon
// to local noon, 23 to 25 hours unless the hours begin or end in it.
type stretch struct {
	night       farm.Day
	first, past int
}

func stretchesOf(hours []weather.Hour, zone *time.Location) []stretch {
	var out []stretch
	var end time.Time
	for h := range hours {
		if len(out) == 0 || !hours[h].At.Before(end) {
			night := farm.NightOf(hours[h].At, zone)
			end = night.Add(1).Noon(zone)
			out = append(out, stretch{night: night, first: h})
		}
		out[len(out)-1].past = h + 1
	}
	return out
}

func (t *tally) stretchOf(hour int) stretch {
	i := slices.IndexFunc(t.stretches, func(s stretch) bool { return hour < s.past })
	return t.stretches[i]
}

// median of the members at an hour.
func (t *tally) median(h int, of column) float32 {
	for m := range t.Courses {
		t.column[m] = of(&t.Courses[m])[h]
	}
	return Quantile(t.column, 0.5)
}

// lows are the lowest values of the members in a night, and the hour at which
// the median course is lowest.
func (t *tally) lows(s stretch, of column) (lows []float32, hour int) {
	lows = make([]float32, len(t.Courses))
	for m := range t.Courses {
		lows[m] = slices.Min(of(&t.Courses[m])[s.first:s.past])
	}
	hour = s.first
	low := t.median(hour, of)
	for h := s.first + 1; h < s.past; h++ {
		if v := t.median(h, of); v < low {
			hour, low = h, v
		}
	}
	return lows, hour
}

// nights lists the coming nights with their risk, those whose cold can still be
// seen: not one of which only the forenoon is left, nor the last one when the
// forecast ends before its morning.
func (t *tally) nights() []farm.NightRisk {
	var out []farm.NightRisk
	for _, s := range t.stretches {
		if t.beforeMorning(s.first) && t.reachesMorning(s.past) {
			out = append(out, t.risk(s))
		}
	}
	return out
}

// morning is the local hour by which a night has shown its low.
const morning = 8

func (t *tally) beforeMorning(first int) bool {
	hour := t.Hours[first].At.In(t.Zone).Hour()
	return hour < morning || hour >= 12
}

func (t *tally) reachesMorning(past int) bool {
	end := t.Hours[past-1].At.Add(time.Hour).In(t.Zone)
	return end.Hour() >= morning && end.Hour() <= 12
}

func (t *tally) risk(s stretch) farm.NightRisk {
	r := farm.NightRisk{Night: s.night, Likelihood: t.share(t.ruin, s.past-1)}
	air, at := t.lows(s, airOf)
	r.AirLow, r.AirP10, r.AirLowAt = unit.Celsius(Quantile(air, 0.5)), unit.Celsius(Quantile(air, 0.1)), t.Hours[at].At
	organ, stands := t.judged()
	tissue, coldest := t.lows(s, organ)
	r.TissueLow, r.TissueP10 = unit.Celsius(Quantile(tissue, 0.5)), unit.Celsius(Quantile(tissue, 0.1))
	r.Tolerance = unit.Celsius(t.median(coldest, stands))
	return r
}

// windows joins workable hours.
func (t *tally) windows() []farm.Window {
	var out []farm.Window
	for h, ok := range t.workable {
		at := t.Hours[h].At
		switch {
		case !ok:
		case len(out) > 0 && out[len(out)-1].End.Equal(at):
			out[len(out)-1].End = at.Add(time.Hour)
		default:
			out = append(out, farm.Window{Start: at, End: at.Add(time.Hour)})
		}
	}
	return out
}
