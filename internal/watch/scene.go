package watch

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/deadline"
	"winterstand/internal/ledger"
	"winterstand/internal/stand"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

const (
	horizonDays = 10
	sightHours  = 48 // holes within this make a field blind
	leastHours  = 24 // of coming air, else nothing can be judged
	holesBorne  = 6  // hours of a lesser layer that may be missing in the next 48
)

// scene is the weather of a cell as far as it is known: what has passed, what
// is to come, and the courses it may take.
type scene struct {
	cell    ledger.Cell
	doc     ledger.Forecast
	now     time.Time
	start   time.Time      // of the history
	past    []weather.Hour // from start to the current hour, contiguous
	coming  []weather.Hour // from the current hour on, without holes
	made    int            // past hours that had to be bridged
	known   int            // past hours there are
	missing []string       // why nothing can be judged; empty: it can
	members []stand.Member
	spread  string
}

func (w *Watcher) scene(ctx context.Context, cell ledger.Cell, doc ledger.Forecast) (*scene, error) {
	s := &scene{cell: cell, doc: doc, now: w.Now()}
	hour := s.now.Truncate(time.Hour)
	stored, err := w.Store.Hours(ctx, cell.ID, seasonStart(s.now, cell.Latitude), hour)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", cell.Key, err)
	}
	s.look(hour)
	s.remember(stored, hour)
	if len(s.missing) == 0 {
		s.members, s.spread = deadline.Dress(doc.Body, s.coming, s.now, w.Members, deadline.SeedFor(cell.Key, doc.Issued))
	}
	return s, nil
}

// look takes the coming hours up to the first hole and names what is missing.
func (s *scene) look(hour time.Time) {
	if s.doc.ID == 0 {
		s.missing = []string{"no forecast"}
		return
	}
	raw := weather.Hours(s.doc.Body, hour, hour.AddDate(0, 0, horizonDays))
	s.missing = missingIn(raw[:sightHours], s.doc.Body.Refused)
	filled, _ := stand.Contiguous(raw, hour, hour.AddDate(0, 0, horizonDays))
	gap := slices.IndexFunc(longHoles(raw, filled), func(h weather.Hour) bool { return !h.Air.Known() })
	if gap >= 0 {
		filled = filled[:gap]
	}
	s.coming = filled
	if len(s.coming) < leastHours && len(s.missing) == 0 {
		s.missing = []string{fmt.Sprintf("the forecast ends after %d hours", len(s.coming))}
	}
}

// longHoles gives the filled hours with holes of more than three hours opened again.
func longHoles(raw, filled []weather.Hour) []weather.Hour {
	out := slices.Clone(filled)
	for i := 0; i < len(raw); {
		j := i
		for j < len(raw) && !raw[j].Air.Known() {
			j++
		}
		for k := i; j-i > 3 && k < j; k++ {
			out[k].Air = unit.None[unit.Celsius]()
		}
		i = max(j, i+1)
	}
	return out
}

// missingIn names the layers without which the coming two days cannot be judged.
func missingIn(hours []weather.Hour, refused []weather.Refusal) []string {
	count := map[string]int{}
	for _, h := range hours {
		for name, known := range map[string]bool{
			"air temperature": h.Air.Known(), "dew point": h.DewPoint.Known(), "wind": h.Wind.Known(),
			"cloud": h.Cloud.Known() || h.Shortwave.Known(),
		} {
			if !known {
				count[name]++
			}
		}
	}
	var out []string
	for name, n := range count {
		if n > holesBorne || name == "air temperature" && n > 0 {
			out = append(out, fmt.Sprintf("%s (missing in %d of the next %d hours)", name, n, len(hours)))
		}
	}
	slices.Sort(out)
	if len(out) > 0 {
		for _, r := range refused {
			out = append(out, "layer "+r.Layer+" refused: "+r.Reason)
		}
	}
	return out
}

// remember lays the stored hours before the current one and bridges gaps.
func (s *scene) remember(stored []weather.Hour, hour time.Time) {
	s.start = hour
	if len(stored) > 0 {
		s.start = stored[0].At
	}
	s.known = len(stored)
	joined := stored
	if len(s.coming) > 0 {
		joined = append(slices.Clone(stored), s.coming[0])
	}
	filled, made := stand.Contiguous(joined, s.start, hour.Add(time.Hour))
	s.made = made
	if n := len(filled) - 1; n > 0 {
		s.past = filled[:n]
	}
}

// thin tells whether there is too little history to know how hard a crop is.
func (s *scene) thin() bool { return s.known < enoughHistory }

// blindBecause says in one sentence why nothing can be judged; empty: it can.
func (s *scene) blindBecause() string { return strings.Join(s.missing, "; ") }
