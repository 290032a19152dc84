package bed

import (
	"fmt"
	"time"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Member is one course that the coming days may take, for a whole cell.
type Member struct {
	Error []unit.Kelvins // on top of the air of each hour
	Crop  float64        // standard normal draw of the plants' tolerance
	Cover float64        // standard normal draw of the cover's gain
}

// Course is what one plant goes through in one member, by hour.
type Course struct {
	Air, Sold, Crown []float32 // °C
	Threshold        []float32 // °C, tissue temperature at which loss begins to matter
	CrownThreshold   []float32 // °C, at which half of the crowns die
	Loss             []float32 // of market quality since the last finding, cumulative
	Life             []float32 // of the sold organ, share alive
	CrownLife        []float32
	Snow, Frost      []float32 // cm
	Soil5            []float32 // °C, 5 cm down
	Thawed           int       // hours in a row before the first that the sold organ was above 0 °C, as far as they count
}

// Limits of work in the field.
type Limits struct {
	WindChill unit.Celsius
	CrustCm   float64 // a fork breaks through less than this
	SnowCm    float64 // roots are dug through snow up to this
}

// Usual limits; own defaults but for the wind chill, which is the farm's.
const (
	UsualCrustCm = 3
	UsualSnowCm  = 30
)

// Try runs every member over the coming hours from a book. The result is by
// plant, then member. spread is the σ of the tolerance of each plant, K. The
// hours must follow the book and have air; an hour that cannot be taken is an
// error that names it.
func Try(b *Book, c *Class, plants []Plant, spread []unit.Kelvins, hours []weather.Hour, members []Member) ([][]Course, error) {
	if err := b.knows(plants); err != nil {
		return nil, err
	}
	out := make([][]Course, len(plants))
	for i := range out {
		out[i] = make([]Course, len(members))
	}
	at := make([]weather.Hour, len(hours))
	for i, h := range hours {
		at[i] = microclimate.Lit(&c.Site, c.At(h))
	}
	y := partyOf(plants)
	for m := range members {
		courses := make([]*Course, len(plants))
		for p := range plants {
			out[p][m] = newCourse(len(hours))
			courses[p] = &out[p][m]
		}
		if err := tryOne(b, c, &y, spread, at, &members[m], courses); err != nil {
			return nil, fmt.Errorf("member %d: %w", m, err)
		}
	}
	return out, nil
}

func tryOne(b *Book, c *Class, y *party, spread []unit.Kelvins, hours []weather.Hour, m *Member, courses []*Course) error {
	ground, under := b.Ground, *c
	under.CoverDraw = m.Cover
	states, felt := make([]State, len(y.plants)), make([]Tissue, len(y.plants))
	for p, key := range y.keys {
		states[p] = b.Plants[key]
		courses[p].Thawed = states[p].Sold.WarmHours
	}
	for i, h := range hours {
		h = Shift(h, m.Error[i])
		on := under.Dressing(h.At)
		if err := ground.Step(&c.Site, on, h); err != nil {
			return fmt.Errorf("coming hour %s: %w", h.At.UTC().Format(time.RFC3339), err)
		}
		if err := y.feel(felt, &ground, &c.Site, on, h); err != nil {
			return fmt.Errorf("coming hour %s: %w", h.At.UTC().Format(time.RFC3339), err)
		}
		for p := range y.plants {
			offset := unit.Kelvins(m.Crop) * spread[p]
			if !h.At.Before(y.plants[p].Since) {
				var err error
				if states[p], err = y.after(p, states[p], felt[p], offset); err != nil {
					return fmt.Errorf("coming hour %s: %w", h.At.UTC().Format(time.RFC3339), err)
				}
			}
			courses[p].put(i, &y.plants[p], &states[p], &felt[p], h, offset)
		}
	}
	return nil
}

func newCourse(n int) Course {
	block := make([]float32, 11*n)
	part := func(i int) []float32 { return block[i*n : (i+1)*n : (i+1)*n] }
	return Course{Air: part(0), Sold: part(1), Crown: part(2), Threshold: part(3), Loss: part(4),
		Life: part(5), CrownLife: part(6), Snow: part(7), Frost: part(8), CrownThreshold: part(9), Soil5: part(10)}
}

func (c *Course) put(i int, p *Plant, s *State, t *Tissue, h weather.Hour, offset unit.Kelvins) {
	air, _ := h.Air.Get()
	c.Air[i], c.Sold[i], c.Crown[i] = float32(air), float32(t.Sold), float32(t.Crown)
	c.Threshold[i] = float32(p.Threshold(*s).Plus(offset))
	c.CrownThreshold[i] = float32(p.CrownThreshold(*s).Plus(offset))
	c.Loss[i], c.Life[i], c.CrownLife[i] = float32(s.Loss()), float32(s.Sold.Survival), float32(s.Crown.Survival)
	c.Snow[i], c.Frost[i], c.Soil5[i] = float32(t.Snow), float32(t.Frost), float32(t.Soil5)
}
