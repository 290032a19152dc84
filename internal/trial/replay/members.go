package replay

import (
	"golang.org/x/sync/errgroup"

	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Member is one course that the weather might have taken.
type Member struct {
	nights []float64 // standardised error of the air, night after night
	crop   float64   // standard normal draw of the crop's tolerance
	cover  float64   // of the cover's gain
}

// Members are n courses around the weather of a file, each with the error of
// the forecast of the evening before at every hour (verdict.SigmaAt half a day
// ahead, correlated from night to night), its own tolerance of the crop and its
// own gain of the cover. The numbers are drawn as the service draws them, seeded
// by a name, so that the same file gives the same members.
func Members(n int, seed string, hours []weather.Hour) []Member {
	nights := verdict.NightErrors(n, len(hours)/24+1, seed)
	out := make([]Member, n)
	for i, d := range verdict.Draws(n, seed) {
		out[i] = Member{nights: nights[i], crop: d.Crop, cover: d.Cover}
	}
	return out
}

// evening is how far ahead the forecast of the evening before looks, h.
const evening = 12

// errorAt is the error of the air so many hours after the first.
func (m *Member) errorAt(hour int) unit.Kelvins {
	return unit.Kelvins(verdict.BetweenNights(m.nights, float64(hour)/24)) * verdict.SigmaAt(evening)
}

// Band is the spread of a value over the members.
type Band struct{ P10, P50, P90 float64 }

// Bands of an hour.
type Bands struct {
	Leaf, Survival, Quality Band
	Soil                    []Band // by Bed.Depths
}

// actor is a member on its way.
type actor struct {
	*walk
	member *Member
	hour   int
	seen   [][]float32 // of the running day: by hour, then leaf, survival, quality, soils
}

func (b *Bed) crowd(first weather.Hour, members []Member) []*actor {
	out := make([]*actor, len(members))
	for i := range members {
		m := &members[i]
		offset := unit.Kelvins(m.crop) * b.Crop.Spread
		out[i] = &actor{walk: b.walk(first.At, offset, m.cover), member: m}
	}
	return out
}

// actorsAtOnce: a core each on a small machine.
const actorsAtOnce = 2

// bands takes all members through a day and puts their spread into its rows.
func (b *Bed) bands(crowd []*actor, hours []weather.Hour, rows []Row) error {
	var group errgroup.Group
	group.SetLimit(actorsAtOnce)
	for _, a := range crowd {
		group.Go(func() error { return b.act(a, hours) })
	}
	if err := group.Wait(); err != nil {
		return err
	}
	values := make([]float32, len(crowd))
	for i := range rows {
		band := func(k int) Band {
			for m, a := range crowd {
				values[m] = a.seen[i][k]
			}
			return Band{quantile(values, 0.1), quantile(values, 0.5), quantile(values, 0.9)}
		}
		bands := &Bands{Leaf: band(0), Survival: band(1), Quality: band(2)}
		for k := range b.Depths {
			bands.Soil = append(bands.Soil, band(3+k))
		}
		rows[i].Bands = bands
	}
	return nil
}

func quantile(vs []float32, q float64) float64 { return float64(verdict.Quantile(vs, q)) }

// act takes a member through a day.
func (b *Bed) act(a *actor, hours []weather.Hour) error {
	shifted := make([]weather.Hour, len(hours))
	for i, h := range hours {
		shifted[i] = bed.Shift(h, a.member.errorAt(a.hour+i))
	}
	a.hour += len(hours)
	a.seen = a.seen[:0]
	return a.through(shifted, func(i int, s *bed.State) error {
		r, _, err := b.read(a.walk, shifted[i], s)
		values := []float32{float32(r.Leaf), float32(r.Survival), float32(r.Quality)}
		for _, c := range r.Soil {
			values = append(values, float32(c))
		}
		a.seen = append(a.seen, values)
		return err
	})
}
