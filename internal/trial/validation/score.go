package validation

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"time"

	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

// Options of a run.
type Options struct {
	// SnowGiven feeds the station's snow depth to the model; otherwise the model
	// makes its own pack from precipitation, and a station that has none is refused.
	SnowGiven bool
	// SpinUp runs the first year of the record once before the run itself, as land
	// surface models are started; a record shorter than a year runs from its beginning.
	SpinUp bool
	// Settle is how long the model runs before it is scored. Zero: no time at all.
	Settle time.Duration
}

// Line is the score of one winter at one depth.
type Line struct {
	Site        string
	Winter      string // "2018-19"
	DepthCm     float64
	N           int
	Bias        unit.Kelvins // modelled minus observed
	RMSE        unit.Kelvins
	MinModelled unit.Celsius // over the hours that were observed
	MinObserved unit.Celsius
}

// MinError is the modelled minus the observed winter minimum.
func (l Line) MinError() unit.Kelvins { return l.MinModelled.Minus(l.MinObserved) }

// ErrNoPrecipitation says that a pack of the model's own cannot be made.
var ErrNoPrecipitation = errors.New("no precipitation column: the model cannot make its own snow")

// Score runs the model over the station and scores December to March (June to
// September in the south). Short gaps of air temperature are bridged; the hours
// of longer ones are not scored.
func Score(st Station, opt Options) ([]Line, error) {
	lines := tally{}
	err := Run(st, opt, func(row Row, bridged bool, g *microclimate.Ground) {
		if bridged || row.Hour.At.Before(st.Rows[0].Hour.At.Add(opt.Settle)) {
			return
		}
		for i, d := range st.Depths {
			if seen, ok := row.Soil[i].Get(); ok {
				lines.add(winterOf(row.Hour.At, st.Site.Latitude), d, float64(g.SoilAt(d)), float64(seen))
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return lines.sorted(st.Name), nil
}

// Run steps the model through the station's hours and shows each with the state
// after it; bridged tells that its air temperature is not the station's own.
func Run(st Station, opt Options, see func(row Row, bridged bool, g *microclimate.Ground)) error {
	if err := st.Check(); err != nil {
		return err
	}
	if !opt.SnowGiven && !hasPrecipitation(st.Rows) {
		return fmt.Errorf("station %s: %w", st.Name, ErrNoPrecipitation)
	}
	all := hourly(st.Rows)
	g := microclimate.NewGround(st.Site, all[0].Hour.At)
	if opt.SpinUp && len(all) > yearHours {
		if err := drive(&st, opt, all[:yearHours], &g, nil); err != nil {
			return err
		}
		g.Unix = all[0].Hour.At.Unix()
	}
	return drive(&st, opt, all, &g, see)
}

const yearHours = 365 * 24

func drive(st *Station, opt Options, rows []bridgedRow, g *microclimate.Ground, see func(Row, bool, *microclimate.Ground)) error {
	on := microclimate.Dressing{Surface: st.Surface}
	for i := range rows {
		h := rows[i].Hour
		if !opt.SnowGiven {
			h.SnowDepth = unit.None[float64]()
		}
		if err := g.Step(&st.Site, on, h); err != nil {
			return fmt.Errorf("station %s: %w", st.Name, err)
		}
		if see != nil {
			see(rows[i].Row, rows[i].bridged, g)
		}
	}
	return nil
}

func hasPrecipitation(rows []Row) bool {
	for _, r := range rows {
		if r.Hour.Precip.Known() {
			return true
		}
	}
	return false
}

// winterOf names the winter of an instant, empty outside its four months.
func winterOf(t time.Time, latitude float64) string {
	if latitude < 0 {
		t = t.AddDate(0, -6, 0)
	}
	y, m, _ := t.Date()
	switch {
	case m == time.December:
		return fmt.Sprintf("%d-%02d", y, (y+1)%100)
	case m <= time.March:
		return fmt.Sprintf("%d-%02d", y-1, y%100)
	}
	return ""
}

type slot struct {
	winter string
	depth  float64
}

type sums struct {
	n                  int
	off, square        float64
	lowModel, lowTruth float64
}

type tally map[slot]*sums

func (t tally) add(winter string, depth, model, truth float64) {
	if winter == "" {
		return
	}
	s, ok := t[slot{winter, depth}]
	if !ok {
		s = &sums{lowModel: math.Inf(1), lowTruth: math.Inf(1)}
		t[slot{winter, depth}] = s
	}
	d := model - truth
	s.n++
	s.off += d
	s.square += d * d
	s.lowModel = math.Min(s.lowModel, model)
	s.lowTruth = math.Min(s.lowTruth, truth)
}

func (t tally) sorted(site string) []Line {
	lines := make([]Line, 0, len(t))
	for k, s := range t {
		n := float64(s.n)
		lines = append(lines, Line{
			Site: site, Winter: k.winter, DepthCm: k.depth, N: s.n,
			Bias: unit.Kelvins(s.off / n), RMSE: unit.Kelvins(math.Sqrt(s.square / n)),
			MinModelled: unit.Celsius(s.lowModel), MinObserved: unit.Celsius(s.lowTruth),
		})
	}
	sort.Slice(lines, func(i, j int) bool {
		a, b := lines[i], lines[j]
		if a.DepthCm != b.DepthCm {
			return a.DepthCm < b.DepthCm
		}
		return a.Winter < b.Winter
	})
	return lines
}
