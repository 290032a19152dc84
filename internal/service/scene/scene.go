// Package scene is what a round has before it when it judges: the weather of a
// cell as far as it is known, what its farms have taught and found, its beds with
// all that their judgement needs, and the trial of the coming days on them. It
// asks nobody and sends nothing.
package scene

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/verdict"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// SettledAfter is how old an hour is whose observation no longer changes; own
// default.
const SettledAfter = 48 * time.Hour

const (
	enoughHistory = 14 * 24 // hours; with less, hardening starts from a default, and says so

	horizonDays = 10
	sightHours  = 48 // holes within this make a field blind
	leastHours  = 24 // of coming air, else nothing can be judged
	holesBorne  = 6  // hours of a lesser layer that may be missing in the next 48
	leadBorne   = 3  // hours from now on before a forecast begins; some begin with the next full hour
)

// scene is the weather of a cell as far as it is known: what has passed, what
// is to come, and the courses it may take.
type Scene struct {
	Cell    store.Cell
	Doc     store.Forecast
	Now     time.Time
	Start   time.Time      // of the history
	Past    []weather.Hour // from Start to the current hour, contiguous
	Coming  []weather.Hour // from the current hour on, without holes
	Known   int            // hours of the last two weeks whose weather is known, or bridged over no more than three
	Missing []farm.Gap     // why nothing can be judged; empty: it can
	Members []bed.Member
	Spread  string
}

func (w *Reader) Scene(ctx context.Context, cell store.Cell, doc store.Forecast) (*Scene, error) {
	s := &Scene{Cell: cell, Doc: doc, Now: w.Now()}
	hour := s.Now.Truncate(time.Hour)
	stored, err := w.Store.Hours(ctx, cell.ID, seasonStart(s.Now, cell.Latitude), hour)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", cell.Key, err)
	}
	s.look(hour)
	s.remember(stored, hour)
	if len(s.Missing) == 0 {
		s.Members, s.Spread = verdict.Dress(doc.Body, s.Coming, s.Now, w.Members, verdict.SeedFor(cell.Key, doc.Issued))
		if err := w.applyVerified(ctx, s); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// look takes the coming hours up to the first hole and names what is missing.
func (s *Scene) look(hour time.Time) {
	if s.Doc.ID == 0 {
		s.Missing = []farm.Gap{{What: farm.GapForecast}}
		return
	}
	raw := begun(weather.Hours(s.Doc.Body, hour, hour.AddDate(0, 0, horizonDays)))
	s.Missing = missingIn(raw[:sightHours], s.Doc.Body.Refused)
	filled, _ := bed.Contiguous(raw, hour, hour.AddDate(0, 0, horizonDays))
	gap := slices.IndexFunc(longHoles(raw, filled), func(h weather.Hour) bool { return !h.Air.Known() })
	if gap >= 0 {
		filled = filled[:gap]
	}
	s.Coming = filled
	if len(s.Coming) < leastHours && len(s.Missing) == 0 {
		s.Missing = []farm.Gap{{What: farm.GapEnd, Hours: len(s.Coming)}}
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
func missingIn(hours []weather.Hour, refused []weather.Refusal) []farm.Gap {
	count := map[farm.GapKind]int{}
	for _, h := range hours {
		for layer, known := range map[farm.GapKind]bool{
			farm.GapAir: h.Air.Known(), farm.GapDewPoint: h.DewPoint.Known(), farm.GapWind: h.Wind.Known(),
			farm.GapCloud: h.Cloud.Known() || h.Shortwave.Known(),
		} {
			if !known {
				count[layer]++
			}
		}
	}
	var out []farm.Gap
	for layer, n := range count {
		if n > holesBorne || layer == farm.GapAir && n > 0 {
			out = append(out, farm.Gap{What: layer, Hours: n, Of: len(hours)})
		}
	}
	slices.SortFunc(out, func(a, b farm.Gap) int { return cmp.Compare(a.What, b.What) })
	if len(out) > 0 {
		out = append(out, Refused(refused)...)
	}
	return out
}

// remember lays the stored hours before the current one and bridges gaps. The
// history begins with the first air that is known.
func (s *Scene) remember(stored []weather.Hour, hour time.Time) {
	known := func(h weather.Hour) bool { c, ok := h.Air.Get(); return ok && c.Finite() }
	first := slices.IndexFunc(stored, known)
	if first < 0 {
		s.Start = hour
		return
	}
	s.Start = stored[first].At
	joined := slices.Clone(stored[first:])
	if len(s.Coming) > 0 {
		joined = append(joined, s.Coming[0])
	}
	filled, _ := bed.Contiguous(joined, s.Start, hour.Add(time.Hour))
	s.Past = filled[:len(filled)-1]
	last := slices.IndexFunc(s.Past, func(h weather.Hour) bool { return !h.Air.Known() })
	if last >= 0 { // nothing is to come that could be bridged to
		s.Past = s.Past[:last]
	}
	s.Known = soundHours(joined, hour)
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
func (s *Scene) thin() bool { return s.Known < enoughHistory*9/10 }

// Unseen is why a farm's beds cannot be judged; empty: they can.
func (s *Scene) Unseen(owner farm.Farm) farm.Blindness {
	var issued time.Time
	if s.Doc.ID != 0 {
		issued = s.Doc.Issued
	}
	why := owner.CannotSee(issued, s.Now)
	if why == "" && len(s.Missing) > 0 {
		return farm.Holes
	}
	return why
}

// seasonStart is where a season's history begins: 1 August in the north, 1
// February in the south, the last one before now.
func seasonStart(now time.Time, latitude float64) time.Time {
	month := time.August
	if latitude < 0 {
		month = time.February
	}
	start := time.Date(now.Year(), month, 1, 0, 0, 0, 0, time.UTC)
	if start.After(now) {
		start = start.AddDate(-1, 0, 0)
	}
	return start
}

// Refused names layers that could not be trusted.
func Refused(layers []weather.Refusal) (out []farm.Gap) {
	for _, r := range layers {
		g := farm.Gap{What: farm.GapRefused, Name: r.Layer, Why: string(r.Why), Says: r.Quote}
		if r.Why == "" {
			g.Says = r.Reason
		}
		out = append(out, g)
	}
	return out
}
