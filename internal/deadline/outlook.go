package deadline

import (
	"time"

	"winterstand/internal/stand"
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
		at := func(of column, quantile float64) unit.Celsius {
			return unit.Celsius(quantileAt(q.Courses, h, of, quantile))
		}
		out[h] = Hour{
			At:     q.Hours[h].At,
			AirP10: at(airOf, 0.1), AirP50: at(airOf, 0.5), AirP90: at(airOf, 0.9),
			TissueP10: at(organ, 0.1), TissueP50: at(organ, 0.5), TissueP90: at(organ, 0.9),
			Tolerance: at(stands, 0.5), Soil5: at(soil5Of, 0.5),
			SnowCm: medianOf(q.Courses, h, snowOf), Workable: t.workable[h],
		}
	}
	return out
}

func soil5Of(c *stand.Course) []float32 { return c.Soil5 }
