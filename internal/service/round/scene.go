package round

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

const (
	horizonDays = 10
	sightHours  = 48 // holes within this make a field blind
	leastHours  = 24 // of coming air, else nothing can be judged
	holesBorne  = 6  // hours of a lesser layer that may be missing in the next 48
	leadBorne   = 3  // hours from now on before a forecast begins; some begin with the next full hour
)

// scene is the weather of a cell as far as it is known: what has passed, what
// is to come, and the courses it may take.
type scene struct {
	cell    store.Cell
	doc     store.Forecast
	now     time.Time
	start   time.Time      // of the history
	past    []weather.Hour // from start to the current hour, contiguous
	coming  []weather.Hour // from the current hour on, without holes
	known   int            // hours of the last two weeks whose weather is known, or bridged over no more than three
	missing []string       // why nothing can be judged; empty: it can
	members []bed.Member
	spread  string
}

func (w *Watcher) scene(ctx context.Context, cell store.Cell, doc store.Forecast) (*scene, error) {
	s := &scene{cell: cell, doc: doc, now: w.Now()}
	hour := s.now.Truncate(time.Hour)
	stored, err := w.Store.Hours(ctx, cell.ID, seasonStart(s.now, cell.Latitude), hour)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", cell.Key, err)
	}
	s.look(hour)
	s.remember(stored, hour)
	if len(s.missing) == 0 {
		s.members, s.spread = verdict.Dress(doc.Body, s.coming, s.now, w.Members, verdict.SeedFor(cell.Key, doc.Issued))
		if err := w.applyVerified(ctx, s); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// look takes the coming hours up to the first hole and names what is missing.
func (s *scene) look(hour time.Time) {
	if s.doc.ID == 0 {
		s.missing = []string{"no forecast"}
		return
	}
	raw := begun(weather.Hours(s.doc.Body, hour, hour.AddDate(0, 0, horizonDays)))
	s.missing = missingIn(raw[:sightHours], s.doc.Body.Refused)
	filled, _ := bed.Contiguous(raw, hour, hour.AddDate(0, 0, horizonDays))
	gap := slices.IndexFunc(longHoles(raw, filled), func(h weather.Hour) bool { return !h.Air.Known() })
	if gap >= 0 {
		filled = filled[:gap]
	}
	s.coming = filled
	if len(s.coming) < leastHours && len(s.missing) == 0 {
		s.missing = []string{fmt.Sprintf("the forecast ends after %d hours", len(s.coming))}
	}
}

// begun lets a forecast that begins within a few hours hold from now on.
func begun(hours []weather.Hour) []weather.Hour {
	first := slices.IndexFunc(hours, func(h weather.Hour) bool { return h.Air.Known() })
	if first < 1 || first > leadBorne {
		return hours
	}
	out := slices.Clone(hours)
	for i := range first {
		at := out[i].At
		out[i] = hours[first]
		out[i].At = at
	}
	return out
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

// remember lays the stored hours before the current one and bridges gaps. The
// history begins with the first air that is known.
func (s *scene) remember(stored []weather.Hour, hour time.Time) {
	known := func(h weather.Hour) bool { c, ok := h.Air.Get(); return ok && c.Finite() }
	first := slices.IndexFunc(stored, known)
	if first < 0 {
		s.start = hour
		return
	}
	s.start = stored[first].At
	joined := slices.Clone(stored[first:])
	if len(s.coming) > 0 {
		joined = append(joined, s.coming[0])
	}
	filled, _ := bed.Contiguous(joined, s.start, hour.Add(time.Hour))
	s.past = filled[:len(filled)-1]
	last := slices.IndexFunc(s.past, func(h weather.Hour) bool { return !h.Air.Known() })
	if last >= 0 { // nothing is to come that could be bridged to
		s.past = s.past[:last]
	}
	s.known = soundHours(joined, hour)
}

// soundHours counts the hours of the last two weeks that are known, or bridged
// over a gap so short that no night is lost in it.
func soundHours(hours []weather.Hour, now time.Time) int {
	recent, long := bed.Contiguous(hours, now.Add(-enoughHistory*time.Hour), now.Add(time.Hour))
	n := -long
	for _, h := range recent[:enoughHistory] {
		if h.Air.Known() {
			n++
		}
	}
	return n
}

// thin tells whether there is too little history to know how hard a crop is: a
// tenth may be missing.
func (s *scene) thin() bool { return s.known < enoughHistory*9/10 }

// blind is why nothing can be judged whatever the farm; empty: it can.
func (s *scene) blind() farm.Blindness {
	if s.doc.ID == 0 {
		return farm.NoForecast
	}
	return farm.Holes
}

// blindBecause says in one sentence why nothing can be judged; empty: it can.
func (s *scene) blindBecause() string { return strings.Join(s.missing, "; ") }
