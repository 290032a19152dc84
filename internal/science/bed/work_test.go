package bed_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var usual = bed.Limits{WindChill: -20, CrustCm: bed.UsualCrustCm, SnowCm: bed.UsualSnowCm}

// day is a November day of local hours 0 to 23 as a course: nothing frozen, no
// snow, and then what the case changes.
func day(change func(i int, h *weather.Hour, c *bed.Course)) ([]weather.Hour, *bed.Course) {
	c := &bed.Course{}
	hours := make([]weather.Hour, 24)
	for i := range hours {
		hours[i] = hour(time.Date(2025, 11, 14, i+6, 0, 0, 0, time.UTC), 5)
		c.Air, c.Sold, c.Snow, c.Frost = append(c.Air, 5), append(c.Sold, 4), append(c.Snow, 0), append(c.Frost, 0)
		if change != nil {
			change(i, &hours[i], c)
		}
	}
	return hours, c
}

// span is the first and last local hour that is workable.
func span(work []bool) (first, last int) {
	first, last = -1, -1
	for i, ok := range work {
		if ok {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	return first, last
}

// At 46° N, 92° W the sun of 14 November is up from 7:09 to 16:36 (NOAA solar
// calculator, from memory): the whole hours in it are 8 to 15.
func TestWorkableHours(t *testing.T) {
	for _, c := range []struct {
		name, crop  string
		change      func(i int, h *weather.Hour, c *bed.Course)
		first, last int // -1: none
	}{
		{"a mild day: from light to dusk", "chard", nil, 8, 15},
		{"frozen until 9: thawed for two hours first", "chard", func(i int, _ *weather.Hour, c *bed.Course) { frozenIf(c, i < 10) }, 11, 15},
		{"exactly 0 °C is not thawed", "chard", func(i int, _ *weather.Hour, c *bed.Course) {
			if i < 12 {
				c.Sold[i] = 0
			}
		}, 13, 15},
		// Spinach freezes solid and is fine once thawed; while frozen there is no
		// harvest (common practice, no source).
		{"spinach frozen all day", "spinach", func(i int, _ *weather.Hour, c *bed.Course) { frozenIf(c, true) }, -1, -1},
		{"roots do not mind frozen leaves", "carrot", func(i int, _ *weather.Hour, c *bed.Course) { frozenIf(c, true) }, 8, 15},
		{"a thin crust breaks", "carrot", func(i int, _ *weather.Hour, c *bed.Course) { c.Frost[i] = 2.9 }, 8, 15},
		{"a thick one does not", "carrot", func(i int, _ *weather.Hour, c *bed.Course) { c.Frost[i] = 3 }, -1, -1},
		{"until noon", "carrot", func(i int, _ *weather.Hour, c *bed.Course) { c.Frost[i] = float32(max(0, 12-i)) }, 10, 15},
		{"leaves do not mind a crust", "chard", func(i int, _ *weather.Hour, c *bed.Course) { c.Frost[i] = 20 }, 8, 15},
		// Snow over the crop slows harvest of low leaves long before it stops kale
		// (common practice, no source).
		{"spinach under 20 cm of snow", "spinach", snow(20), -1, -1},
		{"kale in 20 cm of snow", "kale-curly", snow(20), 8, 15},
		{"kale under 70 cm", "kale-curly", snow(70), -1, -1},
		{"corn salad under 8 cm", "corn-salad", snow(8), -1, -1},
		{"roots through 29 cm", "carrot", snow(29), 8, 15},
		{"roots under 30 cm", "carrot", snow(30), -1, -1},
		{"wind chill: -12 °C is work, with 1 m/s", "carrot", cold(-12, 1), 8, 15},
		{"-12 °C at 10 m/s is not (wind chill -23 °C)", "carrot", cold(-12, 10), -1, -1},
		{"-21 °C in still air is not", "carrot", cold(-21, 0), -1, -1},
		{"a wind that is not known counts as none", "carrot", func(i int, h *weather.Hour, c *bed.Course) {
			c.Air[i], h.Wind = -19, unit.None[float64]()
		}, 8, 15},
	} {
		hours, course := day(c.change)
		p := plantsOf(t, c.crop)[0]
		first, last := span(bed.Workable(&p, &north, hours, course, usual))
		assert.Equal(t, [2]int{c.first, c.last}, [2]int{first, last}, c.name)
	}
}

func frozenIf(c *bed.Course, yes bool) {
	if yes {
		c.Sold[len(c.Sold)-1] = -2
	}
}

func snow(cm float32) func(int, *weather.Hour, *bed.Course) {
	return func(i int, _ *weather.Hour, c *bed.Course) { c.Snow[i] = cm }
}

func cold(air float32, wind float64) func(int, *weather.Hour, *bed.Course) {
	return func(i int, h *weather.Hour, c *bed.Course) { c.Air[i], h.Wind = air, unit.Some(wind) }
}

// Work in progress goes on: the first hour that is asked about is not the first
// that the leaves are thawed.
func TestTheHoursBeforeTheFirstCountAsThawed(t *testing.T) {
	p := plantsOf(t, "chard")[0]
	hours, course := day(nil)
	afternoon := &bed.Course{Air: course.Air[13:], Sold: course.Sold[13:], Snow: course.Snow[13:], Frost: course.Frost[13:]}
	for thawed, want := range map[int]int{0: 1, 1: 0, 3: 0} {
		afternoon.Thawed = thawed
		first, _ := span(bed.Workable(&p, &north, hours[13:], afternoon, usual))
		assert.Equal(t, want, first, "%d h thawed before", thawed)
	}

	class := open(p.Crop)
	plants := []bed.Plant{p}
	book := bed.NewBook(&class, plants, noon)
	warm := steady(noon, 3, 6)
	assert.NoError(t, book.Advance(&class, plants, warm))
	assert.Equal(t, 3, try(t, &book, &class, p, steady(noon.Add(3*time.Hour), 1, 6), exactly(1))[0].Thawed)
	assert.NoError(t, book.Advance(&class, plants, steady(noon.Add(3*time.Hour), 1, -6)))
	assert.Equal(t, 0, try(t, &book, &class, p, steady(noon.Add(4*time.Hour), 1, 6), exactly(1))[0].Thawed)
}

// In the polar night nobody harvests, on a polar day at any hour.
func TestPolarNightAndDay(t *testing.T) {
	far := microclimate.Site{Latitude: 78, Longitude: 15, Soil: microclimate.Loam}
	for month, want := range map[time.Month]bool{time.December: false, time.June: true} {
		hours := steady(time.Date(2025, month, 20, 0, 0, 0, 0, time.UTC), 24, 5)
		for i, lit := range bed.Sunlit(&far, hours) {
			assert.Equal(t, want, lit, "%s, %d h", month, i)
		}
	}
}
