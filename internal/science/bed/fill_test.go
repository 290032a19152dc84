package bed_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func airs(hours []weather.Hour) []any {
	var out []any
	for _, h := range hours {
		if c, ok := h.Air.Get(); ok {
			out = append(out, float64(c))
		} else {
			out = append(out, nil)
		}
	}
	return out
}

// lined is an hour for each number; nil: none.
func lined(values ...any) []weather.Hour {
	var out []weather.Hour
	for i, v := range values {
		h := weather.Hour{At: september.Add(time.Duration(i) * time.Hour)}
		switch v := v.(type) {
		case int:
			h.Air = unit.Some(unit.Celsius(v))
		case float64:
			h.Air = unit.Some(unit.Celsius(v))
		default:
			continue
		}
		out = append(out, h)
	}
	return out
}

func TestMissingHoursAreBridgedAndCounted(t *testing.T) {
	for _, c := range []struct {
		name  string
		given []weather.Hour
		n     int
		want  []any
		made  int
	}{
		{"none missing", lined(1, 2, 3), 3, []any{1.0, 2.0, 3.0}, 0},
		{"three in a line", lined(0, nil, nil, nil, 8), 5, []any{0.0, 2.0, 4.0, 6.0, 8.0}, 0},
		{"four count", lined(0, nil, nil, nil, nil, 10), 6, []any{0.0, 2.0, 4.0, 6.0, 8.0, 10.0}, 4},
		{"nothing before", lined(nil, 5), 2, []any{nil, 5.0}, 0},
		{"nothing after", lined(5, nil), 3, []any{5.0, nil, nil}, 0},
		{"no number is no air", lined(0, nan, 4), 3, []any{0.0, 2.0, 4.0}, 0},
		{"nor at the end", lined(0, nan), 2, []any{0.0, nil}, 0},
		{"nothing at all", nil, 2, []any{nil, nil}, 0},
		{"no span", lined(1, 2), 0, nil, 0},
	} {
		got, made := bed.Contiguous(c.given, september, september.Add(time.Duration(c.n)*time.Hour))
		assert.Equal(t, c.want, airs(got), c.name)
		assert.Equal(t, c.made, made, c.name)
	}
}

// A long gap takes the same clock hour of the nearest known days, so that a
// night stays a night.
func TestALongGapKeepsItsNights(t *testing.T) {
	hours := autumn(5 * 24)
	given := append(append([]weather.Hour{}, hours[:2*24]...), hours[3*24:]...)
	got, made := bed.Contiguous(given, september, september.Add(5*24*time.Hour))
	assert.Equal(t, 24, made)
	for i := 2 * 24; i < 3*24; i++ {
		before, _ := hours[i-24].Air.Get()
		after, _ := hours[i+24].Air.Get()
		assert.Equal(t, unit.Some((before+after)/2), got[i].Air, i)
	}
}

func TestPropertyContiguousHoursFollowEachOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := autumn(6 * 24)
		keep := rapid.SliceOfN(rapid.Bool(), len(all), len(all)).Draw(t, "keep")
		var given []weather.Hour
		for i, h := range all {
			if keep[i] {
				given = append(given, h)
			}
		}
		from := september.Add(time.Duration(rapid.IntRange(-10, 10).Draw(t, "from")) * time.Hour)
		n := rapid.IntRange(0, len(all)).Draw(t, "hours")
		got, made := bed.Contiguous(given, from, from.Add(time.Duration(n)*time.Hour))
		require.Len(t, got, n)
		first, last, missing := -1, -1, 0
		for i, h := range got {
			require.Equal(t, from.Add(time.Duration(i)*time.Hour), h.At)
			if h.Air.Known() {
				if first < 0 {
					first = i
				}
				last = i
			} else {
				missing++
			}
		}
		if first >= 0 {
			require.Equal(t, n-(last-first+1), missing, "only what nothing precedes or follows is missing")
		}
		require.LessOrEqual(t, made, n)
	})
}
