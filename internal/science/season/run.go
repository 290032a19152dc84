package season

import (
	"golang.org/x/sync/errgroup"
)

// Play is what a winter does to the crops.
type Play func(Winter) ([]Outcome, error)

// Run plays winters, so many at a time, each loaded when its turn comes, and
// gives the outcomes in the order of years. played, where it is not nil, is
// called after each winter, from several goroutines.
func Run(years []int, workers int, load func(year int) (Winter, error), play Play, played func(year int)) ([]Outcome, error) {
	results := make([][]Outcome, len(years))
	var group errgroup.Group
	group.SetLimit(max(1, workers))
	for i, year := range years {
		group.Go(func() error {
			w, err := load(year)
			if err != nil {
				return err
			}
			if results[i], err = play(w); err != nil {
				return err
			}
			if played != nil {
				played(year)
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	var out []Outcome
	for _, r := range results {
		out = append(out, r...)
	}
	return out, nil
}
