package deadline

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/stand"
	"winterstand/internal/unit"
)

// column picks one series of a course.
type column func(*stand.Course) []float32

func airOf(c *stand.Course) []float32            { return c.Air }
func soldOf(c *stand.Course) []float32           { return c.Sold }
func crownOf(c *stand.Course) []float32          { return c.Crown }
func thresholdOf(c *stand.Course) []float32      { return c.Threshold }
func crownThresholdOf(c *stand.Course) []float32 { return c.CrownThreshold }

func snowOf(c *stand.Course) []float32  { return c.Snow }
func frostOf(c *stand.Course) []float32 { return c.Frost }

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

func medianOf(courses []stand.Course, h int, of column) float64 {
	return float64(quantileAt(courses, h, of, 0.5))
}

func quantileAt(courses []stand.Course, h int, of column, q float64) float32 {
	vs := make([]float32, 0, len(courses))
	for i := range courses {
		if s := of(&courses[i]); h < len(s) {
			vs = append(vs, s[h])
		}
	}
	if len(vs) == 0 {
		return 0
	}
	return Quantile(vs, q)
}

// span of hours that belong to a night: local noon to local noon.
func (t *tally) span(night farm.Day) (first, past int) {
	first, past = -1, 0
	for h := range t.Hours {
		if farm.NightOf(t.Hours[h].At, t.Zone) != night {
			continue
		}
		if first < 0 {
			first = h
		}
		past = h + 1
	}
	return first, past
}

func (t *tally) lastHourOf(night farm.Day) int {
	_, past := t.span(night)
	return past - 1
}

// lows are the lowest values of the members in a night, and the hour at which
// the median course is lowest.
func (t *tally) lows(night farm.Day, of column) ([]float32, time.Time) {
	first, past := t.span(night)
	lows := make([]float32, len(t.Courses))
	for m := range t.Courses {
		s := of(&t.Courses[m])
		lows[m] = s[first]
		for h := first; h < past; h++ {
			lows[m] = min(lows[m], s[h])
		}
	}
	at, low := first, float32(0)
	for h := first; h < past; h++ {
		if v := quantileAt(t.Courses, h, of, 0.5); h == first || v < low {
			at, low = h, v
		}
	}
	return lows, t.Hours[at].At
}

// nights lists the coming nights with their risk. The last one is left out when
// the forecast ends before its morning.
func (t *tally) nights() []NightRisk {
	var out []NightRisk
	for h := 0; h < len(t.Hours); {
		night := farm.NightOf(t.Hours[h].At, t.Zone)
		_, past := t.span(night)
		if t.reachesMorning(past) {
			out = append(out, t.risk(night, past))
		}
		h = past
	}
	return out
}

// morning is the local hour by which a night has shown its low.
const morning = 8

func (t *tally) reachesMorning(past int) bool {
	end := t.Hours[past-1].At.Add(time.Hour).In(t.Zone)
	return end.Hour() >= morning && end.Hour() <= 12
}

func (t *tally) risk(night farm.Day, past int) NightRisk {
	r := NightRisk{Night: night, Likelihood: t.share(t.ruin, past-1)}
	air, at := t.lows(night, airOf)
	r.AirLow, r.AirP10, r.AirLowAt = unit.Celsius(Quantile(air, 0.5)), unit.Celsius(Quantile(air, 0.1)), at
	organ, stands := t.judged()
	tissue, coldest := t.lows(night, organ)
	r.TissueP10, r.TissueLow = unit.Celsius(Quantile(tissue, 0.1)), unit.Celsius(Quantile(tissue, 0.5))
	r.Tolerance = unit.Celsius(medianOf(t.Courses, int(coldest.Sub(t.Hours[0].At)/time.Hour), stands))
	return r
}

// windows joins workable hours.
func (t *tally) windows() []Window {
	var out []Window
	for h, ok := range t.workable {
		at := t.Hours[h].At
		switch {
		case !ok:
		case len(out) > 0 && out[len(out)-1].End.Equal(at):
			out[len(out)-1].End = at.Add(time.Hour)
		default:
			out = append(out, Window{Start: at, End: at.Add(time.Hour)})
		}
	}
	return out
}
