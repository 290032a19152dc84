package picture

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

// space is what a text covers: from its baseline up by what capitals need.
type space struct{ left, right, top, foot float64 }

func (r *recorder) space(i int) space {
	f, at, wide := r.how[i], r.spots[i], textWidth(r.texts[i], r.how[i].size, r.how[i].bold)
	s := space{at.x, at.x + wide, at.y - 0.7*f.size, at.y}
	switch f.at {
	case middle:
		s.left, s.right = at.x-wide/2, at.x+wide/2
	case end:
		s.left, s.right = at.x-wide, at.x
	}
	return s
}

// winters are the picture of a snowy week, in one's own units or the other, one
// without the hours of three days, and one that nothing is known of snow in.
func winters() map[string]Bed {
	holed, blind, metric, open := sampleBed(), sampleBed(), sampleBed(), sampleBed()
	holed.Hours = append(holed.Hours[:60:60], holed.Hours[132:]...)
	for i := range blind.Hours {
		blind.Hours[i].SnowCm = unit.None[float64]()
	}
	metric.Units = unit.Metric
	open.Deadline, open.Phrases = unit.None[time.Time](), spanish()
	return map[string]Bed{"as it is": sampleBed(), "holed": holed, "blind": blind, "metric": metric, "spanish": open}
}

// No text lies on another, and none leaves the picture.
func TestTextsDoNotTouch(t *testing.T) {
	for name, b := range winters() {
		r := record(b)
		for i := range r.texts {
			a := r.space(i)
			assert.True(t, a.left >= 0 && a.right <= width, "%s: %q leaves the picture", name, r.texts[i])
			for j := range i {
				z := r.space(j)
				apart := a.right <= z.left || z.right <= a.left || a.foot <= z.top || z.foot <= a.top
				assert.True(t, apart, "%s: %q %+v lies on %q %+v", name, r.texts[i], a, r.texts[j], z)
			}
		}
	}
}

// The rows stand in their order, each with what is in it under its name.
func TestRowsStandInOrder(t *testing.T) {
	b := sampleBed()
	b.Units = unit.Metric
	r := record(b)
	low, work, snow := r.at(b.Phrases.NightLow+", °C").y, r.at("When it can be harvested (hollow: too late)").y, r.at(b.Phrases.Snow+", cm").y
	require.True(t, low < work && work < snow, "%v %v %v", low, work, snow)
	window := r.at("10:00–17:00").y
	assert.True(t, work < window && window < snow, window)
	snowy := r.at("21").y // cm, over its bar
	assert.True(t, snowy > snow && snowy < r.at(b.Phrases.Tissue).y, "%v", snowy)
}
