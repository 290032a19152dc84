package supply

import (
	"math"
	"math/rand/v2"
	"slices"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Outlook plays the weeks and gives what can be expected of them.
func Outlook(in Input) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}
	if in.Gap == (Gap{}) {
		in.Gap = NorthernGap
	}
	if in.Until == "" {
		in.Until = in.Gap.end(farm.DayOf(in.Now, in.Zone))
	}
	r := Result{Weeks: in.calendar(), Rows: []Row{}, RunsOut: []RunsOut{}, Totals: []Total{}}
	for _, s := range in.Standing {
		if !s.Kg.Known() {
			r.Unknown = append(r.Unknown, s.BedID)
		}
	}
	fates := in.fates()
	for n, crop := range in.crops() {
		c := in.newCourse(crop, r.Weeks)
		c.play(fates, rand.New(rand.NewPCG(in.Seed, uint64(n+2))))
		r.Rows = append(r.Rows, c.rows()...)
		r.Totals = append(r.Totals, c.total)
		if out, ok := c.runsOut(); ok {
			r.RunsOut = append(r.RunsOut, out)
		}
	}
	r.Gap = gapReport(r)
	return r, nil
}

// crops are all that are wanted, stand or are stored, in order of name.
func (in Input) crops() []string {
	var out []string
	for _, w := range in.Wants {
		out = append(out, w.Crop)
	}
	for _, s := range in.Standing {
		out = append(out, s.Crop)
	}
	for _, l := range in.Lots {
		out = append(out, l.Crop)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// fates draws, for every play and bed, a number between 0 (it ends early) and 1.
// Beds share the winter: their numbers go together.
func (in Input) fates() [][]float64 {
	r := rand.New(rand.NewPCG(in.Seed, 1))
	winter := strata(r)
	out := make([][]float64, len(in.Standing))
	for i := range out {
		own := strata(r)
		for n := range own {
			z := math.Sqrt(kinship)*normal(winter[n]) + math.Sqrt(1-kinship)*normal(own[n])
			out[i] = append(out[i], z)
		}
		out[i] = ranked(out[i])
	}
	return out
}

// strata is one number from each of as many equal strata as there are plays, in
// random order.
func strata(r *rand.Rand) []float64 {
	out := make([]float64, plays)
	for n, p := range r.Perm(plays) {
		out[n] = (float64(p) + 0.5) / plays
	}
	return out
}

// ranked gives each number its place among all, as a share, so that every bed's
// own chances come out as they were given.
func ranked(z []float64) []float64 {
	order := make([]int, len(z))
	for n := range order {
		order[n] = n
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case z[a] < z[b]:
			return -1
		case z[a] > z[b]:
			return 1
		}
		return 0
	})
	out := make([]float64, len(z))
	for rank, n := range order {
		out[n] = (float64(rank) + 0.5) / float64(len(z))
	}
	return out
}

// normal is the standard normal quantile.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// course is one crop through all weeks, with sums over the plays.
type course struct {
	crop    string
	weeks   []Week
	wants   []Want
	wanted  [][]float64 // by week and outlet
	sources []source

	taken   [][origins]float64 // by week
	at      [][origins]float64 // available at the start of the week
	missing [][]float64        // by week and outlet
	enough  []int              // plays, by week
	first   []int              // plays whose first short week this is
	total   Total
}

func (in Input) newCourse(crop string, weeks []Week) *course {
	c := &course{
		crop: crop, weeks: weeks, sources: in.sources(crop, weeks), total: Total{Crop: crop},
		taken: make([][origins]float64, len(weeks)), at: make([][origins]float64, len(weeks)),
		missing: make([][]float64, len(weeks)), enough: make([]int, len(weeks)), first: make([]int, len(weeks)),
	}
	for _, w := range in.Wants {
		if w.Crop == crop {
			c.wants = append(c.wants, w)
		}
	}
	for n, week := range weeks {
		c.missing[n] = make([]float64, len(c.wants))
		var kg []float64
		for _, w := range c.wants {
			kg = append(kg, w.KgPerWeek*float64(week.overlap(w.From, w.To))/7)
		}
		c.wanted = append(c.wanted, kg)
	}
	return c
}

// play runs all plays. Lots spoil each for itself.
func (c *course) play(fates [][]float64, r *rand.Rand) {
	ends := make([][]int, len(c.sources))
	for i, s := range c.sources {
		fate := strata(r)
		if s.kin > 0 {
			fate = fates[s.kin-1]
		}
		for _, f := range fate {
			ends[i] = append(ends[i], s.last(f))
		}
	}
	for n := range plays {
		last := make([]int, len(c.sources))
		for i := range last {
			last[i] = ends[i][n]
		}
		c.once(last)
	}
}

// once plays the weeks one time: what ends leaves the books, then the wants
// take from what is left.
func (c *course) once(last []int) {
	left := make([]float64, len(c.sources))
	for i, s := range c.sources {
		switch {
		case s.origin != regrown:
			left[i] = s.kg
			c.total.Start += s.kg / plays
		case last[i] > s.from:
			left[i] = s.kg
			c.total.Regrown += s.kg / plays
		}
	}
	short := false
	for w := range c.weeks {
		c.drop(w, last, left)
		if c.serve(w, left) && !short {
			short = true
			c.first[w]++
		}
	}
	for _, kg := range left {
		c.total.Left += kg / plays
	}
}

// drop takes out what has ended by the start of a week, and counts what is there.
func (c *course) drop(w int, last []int, left []float64) {
	for i, s := range c.sources {
		if w >= last[i] {
			if s.origin == stored {
				c.total.Spoiled += left[i] / plays
			} else {
				c.total.LostStanding += left[i] / plays
			}
			left[i] = 0
		}
		if w >= s.from {
			c.at[w][s.origin] += left[i] / plays
		}
	}
}

// serve gives the outlets what there is, in their order; it tells whether the
// week was short.
func (c *course) serve(w int, left []float64) bool {
	wanted, got := 0.0, 0.0
	for o, kg := range c.wanted[w] {
		wanted += kg
		need := kg
		for i, s := range c.sources {
			if w < s.from || need <= 0 {
				continue
			}
			take := math.Min(need, left[i])
			left[i] -= take
			need -= take
			got += take
			c.taken[w][s.origin] += take / plays
		}
		c.missing[w][o] += need / plays
	}
	c.total.Used += got / plays
	isShort := wanted-got > short*wanted
	if !isShort {
		c.enough[w]++
	}
	return isShort
}

func (c *course) rows() []Row {
	var out []Row
	for n, w := range c.weeks {
		r := Row{
			Crop: c.crop, Week: w.Start, SpringGap: w.Gap,
			FromStanding: c.taken[n][standing], FromRegrowth: c.taken[n][regrown], FromStored: c.taken[n][stored],
			StandingKg: c.at[n][standing] + c.at[n][regrown], StoredKg: c.at[n][stored],
		}
		for o, want := range c.wants {
			r.WantedKg += c.wanted[n][o]
			r.ShortKg += c.missing[n][o]
			if c.wanted[n][o] > 0 {
				r.Outlets = append(r.Outlets, Share{want.For, c.wanted[n][o], c.missing[n][o]})
			}
		}
		if r.WantedKg > 0 {
			r.Enough = unit.Some(float64(c.enough[n]) / plays)
		}
		out = append(out, r)
	}
	return out
}

// runsOut is told of wanted crops only.
func (c *course) runsOut() (RunsOut, bool) {
	out := RunsOut{Crop: c.crop}
	wanted := false
	sum := 0
	for n, w := range c.weeks {
		for _, kg := range c.wanted[n] {
			wanted = wanted || kg > 0
		}
		sum += c.first[n]
		share := float64(sum) / plays
		for _, mark := range []struct {
			at float64
			to *unit.Maybe[farm.Day]
		}{{0.1, &out.Early}, {0.5, &out.Week}, {0.9, &out.Late}} {
			if share >= mark.at && !mark.to.Known() {
				*mark.to = unit.Some(w.Start)
			}
		}
		out.Likelihood = share
	}
	return out, wanted
}
