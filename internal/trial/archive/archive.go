// Package archive plays forecasts that were issued in the past through the real
// decision code: the beds are stepped over the weather that came, at each issue
// the service's own members are tried and judged, and what it would have said is
// set beside what then happened. Values in, values out.
package archive

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/skill"
	"winterstand/internal/science/verdict"
	"winterstand/internal/science/weatherfile"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// Station is a place whose forecasts were kept, with the days that came: truth
// and past at once. Missing maxima are what is usual in the series.
type Station struct {
	Name string
	Lows []weatherfile.Low
	Days []weatherfile.Day
}

// Options of a replay.
type Options struct {
	Site    microclimate.Site
	Zone    *time.Location // of the archive's days
	Crops   []crop.Crop    // a bed of each, sound at the start of each season
	Workers int            // winters at once
	// Spread lets the members' crops differ in tolerance, as the service does. The
	// truth is the model run on what was observed, which knows one tolerance: so
	// the spread can only cost here, and without it the forecasts alone are scored.
	Spread bool
	// Learn corrects every issue by what the station's earlier ones were worth.
	Learn bool
	// Members makes the courses around a forecast; nil: as the service dresses a
	// forecast that has no spread of its own.
	Members func(hours []weather.Hour, issued time.Time, seed string) []bed.Member
	Played  func() // called after each issue, from several goroutines; may be nil
}

// Result is what a replay gives.
type Result struct {
	Rows   []skill.Judged
	Issues int         // played
	Short  int         // left out: no low for the next morning, or no observed weather around it
	Errors []LeadError // of the issued lows, the nearest first
}

// Replay plays all stations. Every row is one bed and one coming night as judged
// at one issue; a bed that was lost before the issue gives none.
func Replay(stations []Station, opt Options) (Result, error) {
	if opt.Members == nil {
		opt.Members = dressed
	}
	var winters []*winter
	for _, s := range stations {
		own, err := wintersOf(s, opt)
		if err != nil {
			return Result{}, err
		}
		winters = append(winters, own...)
	}
	var group errgroup.Group
	group.SetLimit(max(1, opt.Workers))
	for _, w := range winters {
		group.Go(w.play)
	}
	if err := group.Wait(); err != nil {
		return Result{}, err
	}
	r := Result{Errors: errorsOf(stations)}
	for _, w := range winters {
		r.Rows = append(r.Rows, w.rows()...)
		r.Issues, r.Short = r.Issues+len(w.issues)-w.short, r.Short+w.short
	}
	return r, nil
}

func dressed(hours []weather.Hour, issued time.Time, seed string) []bed.Member {
	members, _ := verdict.Dress(weather.Forecast{}, hours, issued, verdict.DefaultMembers, seed)
	return members
}

// issue is what was said of the coming mornings at one instant.
type issue struct {
	at   time.Time // a full hour
	lows map[farm.Day]unit.Celsius
}

// issuesOf gathers lows by issue; one of which only the day is known counts as of
// local noon.
func issuesOf(lows []weatherfile.Low, zone *time.Location) []issue {
	byHour := map[int64]issue{}
	for _, l := range lows {
		at := l.Issued.Else(l.IssuedOn.Noon(zone)).UTC().Truncate(time.Hour)
		is, ok := byHour[at.Unix()]
		if !ok {
			is = issue{at: at, lows: map[farm.Day]unit.Celsius{}}
			byHour[at.Unix()] = is
		}
		is.lows[l.Morning] = l.Low
	}
	out := make([]issue, 0, len(byHour))
	for _, is := range byHour {
		out = append(out, is)
	}
	slices.SortFunc(out, func(a, b issue) int { return a.at.Compare(b.at) })
	return out
}

// seasonStart is the day from which beds are stepped: the last 1 August before,
// 1 February in the south.
func seasonStart(at time.Time, zone *time.Location, latitude float64) farm.Day {
	month := time.August
	if latitude < 0 {
		month = time.February
	}
	local := at.In(zone)
	year := local.Year()
	if local.Month() < month {
		year--
	}
	return farm.Day(fmt.Sprintf("%04d-%02d-01", year, month))
}

// wintersOf cuts a station's archive into seasons.
func wintersOf(s Station, opt Options) ([]*winter, error) {
	days, _ := weatherfile.FillMax(s.Days)
	usual := weatherfile.RangeOf(s.Days)
	byStart := map[farm.Day]*winter{}
	var out []*winter
	for _, is := range issuesOf(s.Lows, opt.Zone) {
		start := seasonStart(is.at, opt.Zone, opt.Site.Latitude)
		w, ok := byStart[start]
		if !ok {
			w = &winter{opt: opt, station: s.Name, start: start, usual: usual, days: map[farm.Day]weatherfile.Day{}}
			byStart[start] = w
			out = append(out, w)
		}
		w.issues = append(w.issues, is)
	}
	for _, w := range out {
		if err := w.prepare(days); err != nil {
			return nil, fmt.Errorf("station %s, season from %s: %w", s.Name, w.start, err)
		}
	}
	slices.SortFunc(out, func(a, b *winter) int { return strings.Compare(string(a.start), string(b.start)) })
	if opt.Learn {
		teach(out, s)
	}
	return out, nil
}

// LeadError is how far the issued lows were off, so many days ahead.
type LeadError struct {
	LeadDays int          `json:"lead_days"`
	Cases    int          `json:"cases"`
	Bias     unit.Kelvins `json:"bias_k"` // issued minus observed
	RMSE     unit.Kelvins `json:"rmse_k"`
}

func errorsOf(stations []Station) []LeadError {
	byLead := map[int]*LeadError{}
	for _, s := range stations {
		observed := map[farm.Day]unit.Maybe[unit.Celsius]{}
		for _, d := range s.Days {
			observed[d.Date] = d.Min
		}
		for _, l := range s.Lows {
			was, ok := observed[l.Morning].Get()
			if !ok {
				continue
			}
			if byLead[l.LeadDays] == nil {
				byLead[l.LeadDays] = &LeadError{LeadDays: l.LeadDays}
			}
			e, off := byLead[l.LeadDays], l.Low.Minus(was)
			e.Cases, e.Bias, e.RMSE = e.Cases+1, e.Bias+off, e.RMSE+off*off
		}
	}
	out := make([]LeadError, 0, len(byLead))
	for _, e := range byLead {
		n := unit.Kelvins(e.Cases)
		out = append(out, LeadError{LeadDays: e.LeadDays, Cases: e.Cases, Bias: e.Bias / n, RMSE: unit.Kelvins(math.Sqrt(float64(e.RMSE / n)))})
	}
	slices.SortFunc(out, func(a, b LeadError) int { return a.LeadDays - b.LeadDays })
	return out
}
