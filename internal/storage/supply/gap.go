package supply

import (
	"cmp"
	"slices"

	"winterstand/internal/farm"
)

// Cover is what one crop gives in the spring gap, as expected values.
type Cover struct {
	Crop         string  `json:"crop"`
	WantedKg     float64 `json:"wanted_kg"`
	FromStanding float64 `json:"from_standing_kg"`
	FromRegrowth float64 `json:"from_regrowth_kg"`
	FromStored   float64 `json:"from_stored_kg"`
	ShortKg      float64 `json:"short_kg"`
	SpareKg      float64 `json:"spare_kg"` // there at the last week of the gap, not wanted by then
}

// GapReport names the spring gap and what covers it.
type GapReport struct {
	From   farm.Day `json:"from,omitempty"` // empty: no week of the outlook lies in it
	To     farm.Day `json:"to,omitempty"`   // exclusive
	Covers []Cover  `json:"covers"`         // crops that give or have something, most first
	Bare   []string `json:"bare"`           // crops wanted in it that are more likely than not to be short in some week
}

func gapReport(r Result) GapReport {
	g := GapReport{Covers: []Cover{}, Bare: []string{}}
	for _, w := range r.Weeks {
		if w.Gap && g.From == "" {
			g.From = w.Start
		}
		if w.Gap {
			g.To = w.End
		}
	}
	byCrop := map[string]*Cover{}
	for _, row := range r.Rows {
		if row.SpringGap {
			g.count(byCrop, row)
		}
	}
	for _, c := range byCrop {
		if c.given()+c.SpareKg > 0.05 {
			g.Covers = append(g.Covers, *c)
		}
	}
	slices.SortFunc(g.Covers, func(a, b Cover) int {
		return cmp.Or(cmp.Compare(b.given(), a.given()), cmp.Compare(b.SpareKg, a.SpareKg), cmp.Compare(a.Crop, b.Crop))
	})
	return g
}

func (c Cover) given() float64 { return c.FromStanding + c.FromRegrowth + c.FromStored }

func (g *GapReport) count(byCrop map[string]*Cover, row Row) {
	c := byCrop[row.Crop]
	if c == nil {
		c = &Cover{Crop: row.Crop}
		byCrop[row.Crop] = c
	}
	c.WantedKg += row.WantedKg
	c.FromStanding += row.FromStanding
	c.FromRegrowth += row.FromRegrowth
	c.FromStored += row.FromStored
	c.ShortKg += row.ShortKg
	c.SpareKg = row.StandingKg + row.StoredKg - row.FromStanding - row.FromRegrowth - row.FromStored
	if enough, ok := row.Enough.Get(); ok && enough < 0.5 && !slices.Contains(g.Bare, row.Crop) {
		g.Bare = append(g.Bare, row.Crop)
	}
}
