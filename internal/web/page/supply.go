package page

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/supply"
	"winterstand/internal/unit"
)

var supplyScreen = Screen{Path: "/supply", Name: "supply.title", Front: true, Routes: func(s *Site, r chi.Router) {
	r.Get("/supply", s.signed(showSupply))
	r.Get("/supply.csv", s.signed(supplyTable))
}}

// supplyPage says what runs out when, and the weeks behind it.
type supplyPage struct {
	Now      string
	Lifted   bool
	Wanted   bool
	RunsOut  []runsOut
	Gap      string
	Bare     string
	Covers   []gapCover
	Regrowth []string
	Totals   []supplyTotal
	Weeks    []cropWeeks
	Notes    []string
}

type runsOut struct {
	Crop, Chance, When, Span string
	Strip                    template.HTML
}

type gapCover struct {
	Crop, Wanted, Standing, Regrowth, Stored, Short, Spare string
}

type supplyTotal struct {
	Crop, Start, Regrown, Used, Lost, Spoiled, Left string
}

type cropWeeks struct {
	Crop string
	Rows []weekRow
}

type weekRow struct {
	Week, Wanted, Standing, Stored, FromBeds, FromRegrowth, FromStore, Short, Enough string
	Gap                                                                              bool
}

func (v *visit) supply() (plan.Supply, error) {
	return v.Plans.Supply(v.ctx(), v.farm.ID, v.r.URL.Query().Get("lifted") == "yes")
}

func showSupply(v *visit) error {
	s, err := v.supply()
	if err != nil {
		return err
	}
	w := supplyWriter{v, s}
	d := supplyPage{Now: v.speaker.When(v.now), Lifted: s.Lifted, Wanted: len(v.farm.Wanted) > 0, Regrowth: w.regrowth(), Notes: w.notes()}
	for _, r := range s.RunsOut {
		d.RunsOut = append(d.RunsOut, w.runsOut(r))
	}
	d.Gap, d.Bare = w.gap()
	for _, c := range s.Gap.Covers {
		d.Covers = append(d.Covers, gapCover{v.cropName(c.Crop, ""), w.kg(c.WantedKg), w.kg(c.FromStanding), w.kg(c.FromRegrowth), w.kg(c.FromStored), w.kg(c.ShortKg), w.kg(c.SpareKg)})
	}
	for _, t := range s.Totals {
		d.Totals = append(d.Totals, supplyTotal{v.cropName(t.Crop, ""), w.kg(t.Start), w.kg(t.Regrown), w.kg(t.Used), w.kg(t.LostStanding), w.kg(t.Spoiled), w.kg(t.Left)})
	}
	d.Weeks = w.weeks()
	return v.show("supply", v.say("supply.title"), d)
}

func supplyTable(v *visit) error {
	s, err := v.supply()
	if err != nil {
		return err
	}
	var b strings.Builder
	if err := supply.WriteCSV(&b, s.Result); err != nil {
		return err
	}
	v.w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	v.w.Header().Set("Content-Disposition", `attachment; filename="supply.csv"`)
	v.w.WriteHeader(http.StatusOK)
	_, _ = v.w.Write([]byte(b.String())) // the reader has gone: nobody is left to tell
	return nil
}

// supplyWriter says an outlook in the visitor's words.
type supplyWriter struct {
	v *visit
	s plan.Supply
}

// kg is a weight; what is next to nothing is a dash.
func (w supplyWriter) kg(kg float64) string {
	if math.Abs(kg) < 0.05 {
		return "–"
	}
	return w.v.speaker.Units.Mass(kg)
}

func (w supplyWriter) day(d farm.Day) string { return w.v.date(d.Noon(w.v.speaker.Zone)) }

// weeksBar draws the weeks of a crop: a block as high as the chance that there is
// enough, nothing where none is wanted, a rule under the spring gap. The words
// beside it say the same, so it is hidden from those who listen.
func (w supplyWriter) weeksBar(crop string) template.HTML {
	n := len(w.s.Weeks)
	if n == 0 {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="strip" viewBox="0 0 %d 20" preserveAspectRatio="none" aria-hidden="true" focusable="false"><path d="M0 17h%dv1H0z`, 20*n, 20*n)
	for _, r := range w.s.Rows {
		i := slices.IndexFunc(w.s.Weeks, func(x supply.Week) bool { return x.Start == r.Week })
		p, wanted := r.Enough.Get()
		if r.Crop != crop || i < 0 {
			continue
		}
		if wanted && p > 0 {
			fmt.Fprintf(&b, "M%d 16h16v%.1fh-16z", 20*i+2, -16*p)
		}
		if r.SpringGap {
			fmt.Fprintf(&b, "M%d 18h20v2h-20z", 20*i)
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String()) // numbers only
}

func (w supplyWriter) maybeDay(d unit.Maybe[farm.Day]) (string, bool) {
	x, ok := d.Get()
	return w.day(x), ok
}

func (w supplyWriter) runsOut(r supply.RunsOut) runsOut {
	v := w.v
	out := runsOut{Crop: v.cropName(r.Crop, ""), Chance: v.say("supply.out_chance", "chance", v.speaker.Chance(r.Likelihood)), When: v.say("supply.enough"), Strip: w.weeksBar(r.Crop)}
	early, hasEarly := w.maybeDay(r.Early)
	late, hasLate := w.maybeDay(r.Late)
	if week, ok := w.maybeDay(r.Week); ok {
		out.When = v.say("supply.out_week", "week", week)
	} else if hasEarly {
		out.When = v.say("supply.mostly_enough")
	}
	switch {
	case early == late: // nothing to tell apart
	case hasEarly && hasLate:
		out.Span = v.say("supply.out_span", "early", early, "late", late)
	case hasEarly:
		out.Span = v.say("supply.out_early", "early", early)
	}
	return out
}

func (w supplyWriter) gap() (span, bare string) {
	g := w.s.Gap
	if g.From == "" {
		return w.v.say("supply.no_gap"), ""
	}
	span = w.v.say("supply.gap_span", "from", w.day(g.From), "to", w.day(g.To.Add(-1)))
	if len(g.Bare) == 0 {
		return span, w.v.say("supply.gap_none")
	}
	return span, w.v.say("supply.gap_bare", "crops", w.crops(g.Bare))
}

func (w supplyWriter) crops(keys []string) string {
	var out []string
	for _, k := range keys {
		out = append(out, w.v.cropName(k, ""))
	}
	return strings.Join(out, ", ")
}

// leastChance of a crown that is worth a line.
const leastChance = 0.02

func (w supplyWriter) regrowth() []string {
	var out []string
	for _, b := range w.s.Beds {
		if r, ok := b.Regrow.Get(); ok && r.Likelihood >= leastChance {
			out = append(out, w.v.say("supply.regrows", "bed", b.Name, "crop", w.v.cropName(b.Crop, ""), "kg", w.kg(r.Kg),
				"from", w.day(r.From), "chance", w.v.speaker.Chance(r.Likelihood)))
		}
	}
	return out
}

func (w supplyWriter) weeks() []cropWeeks {
	var out []cropWeeks
	for _, r := range w.s.Rows {
		name := w.v.cropName(r.Crop, "")
		if len(out) == 0 || out[len(out)-1].Crop != name {
			out = append(out, cropWeeks{Crop: name})
		}
		row := weekRow{Week: w.day(r.Week), Wanted: w.kg(r.WantedKg), Standing: w.kg(r.StandingKg), Stored: w.kg(r.StoredKg), FromBeds: w.kg(r.FromStanding),
			FromRegrowth: w.kg(r.FromRegrowth), FromStore: w.kg(r.FromStored), Short: w.kg(r.ShortKg), Enough: "–", Gap: r.SpringGap}
		if p, ok := r.Enough.Get(); ok {
			row.Enough = w.v.speaker.Chance(p)
		}
		last := &out[len(out)-1]
		last.Rows = append(last.Rows, row)
	}
	return out
}

func (w supplyWriter) notes() []string {
	out := []string{w.v.say("supply.basis_normal")}
	if w.s.Winter == plan.PastWinters {
		out[0] = w.v.say("supply.basis_past")
	}
	var lots []string
	if beds := w.named(func(b plan.Expectation) bool { return slices.Contains(w.s.Unknown, b.BedID) }); beds != "" {
		out = append(out, w.v.say("supply.unknown_weight", "beds", beds))
	}
	if beds := w.named(func(b plan.Expectation) bool { return b.Unseen }); beds != "" {
		out = append(out, w.v.say("supply.unseen", "beds", beds))
	}
	for _, id := range w.s.Unkept {
		if l, err := w.v.books().Lot(w.v.ctx(), w.v.farm.ID, id); err == nil {
			lots = append(lots, w.v.cropName(l.Crop, l.Variety))
		}
	}
	if len(lots) > 0 {
		out = append(out, w.v.say("supply.unknown_life", "crops", strings.Join(lots, ", ")))
	}
	return out
}

// named are the beds of which something is true.
func (w supplyWriter) named(is func(plan.Expectation) bool) string {
	var names []string
	for _, b := range w.s.Beds {
		if is(b) {
			names = append(names, b.Name)
		}
	}
	return strings.Join(names, ", ")
}
