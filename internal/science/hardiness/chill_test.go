package hardiness

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/crop"
	"winterstand/internal/unit"
)

func chillable() Params {
	p := bare(-2, -2, -2, 0, 1, 0.3)
	p.Chill = unit.Some(crop.Chill{Below: 10, Hours: 48})
	return p
}

func TestChillNeedsHoursNotFrost(t *testing.T) {
	p := chillable()
	for _, c := range []struct {
		why     string
		tissue  course
		quality float64
	}{
		{"never below the threshold", hold(200, 10), 1},
		{"one cool night", hold(8, 6).then(hold(16, 18)), 1},
		{"a month of cool nights and warm days", days(30, 7, 21), 1},
		{"the hours that lose half", hold(48, 6), 0.5},
		{"half of them lose 1/17", hold(24, 6), 16.0 / 17},
		{"a week on end", hold(168, 6), 0},
	} {
		s := advance(t, p, Start(p.Hardening, -2), c.tissue)
		assert.InDelta(t, c.quality, s.Quality, 1e-9, c.why)
		assert.Equal(t, 1.0, s.Survival, c.why)
	}
}

func TestASecondColdSpellStartsAnew(t *testing.T) {
	p := chillable()
	s := advance(t, p, Start(p.Hardening, -2), hold(48, 6).then(hold(48, 20), hold(48, 6)))
	assert.InDelta(t, 0.25, s.Quality, 1e-9)
}

func TestHardyCropsDoNotChill(t *testing.T) {
	assert.Equal(t, 1.0, play(t, find(t, "spinach"), hold(500, 2)).Quality)
}
