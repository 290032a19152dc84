package verdict

import (
	"time"

	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
)

// Hour is one coming hour of a bed over all members.
type Hour struct {
	At                              time.Time
	AirP10, AirP50, AirP90          unit.Celsius
	TissueP10, TissueP50, TissueP90 unit.Celsius
	Tolerance                       unit.Celsius // median
	Soil5                           unit.Celsius // median, 5 cm down
	SnowCm                          float64      // median
	Workable                        bool
}

// Outlook is the course of the coming hours with its spread.
func Outlook(q Question) []Hour {
	t := q.tally()
	organ, stands := q.judged()
	out := make([]Hour, len(q.Hours))
	for h := range q.Hours {
		air, tissue := t.spread(h, airOf), t.spread(h, organ)
		out[h] = Hour{
			At:     q.Hours[h].At,
			AirP10: air[0], AirP50: air[1], AirP90: air[2],
			TissueP10: tissue[0], TissueP50: tissue[1], TissueP90: tissue[2],
			Tolerance: unit.Celsius(t.median(h, stands)), Soil5: unit.Celsius(t.median(h, soil5Of)),
			SnowCm: float64(t.median(h, snowOf)), Workable: t.workable[h],
		}
	}
	return out
}

// spread is the 10th, 50th and 90th percentile of the members at an hour.
func (t *tally) spread(h int, of column) [3]unit.Celsius {
	median := t.median(h, of) // leaves the column sorted
	return [3]unit.Celsius{unit.Celsius(Quantile(t.column, 0.1)), unit.Celsius(median), unit.Celsius(Quantile(t.column, 0.9))}
}

func soil5Of(c *bed.Course) []float32 { return c.Soil5 }
