package page

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

var dueScreen = Screen{Path: "/", Name: "page.due", Front: true, Routes: func(s *Site, r chi.Router) {
	r.Get("/", s.signed(showDue))
}}

// duePage is the first page: what must be out by when, then what stands.
type duePage struct {
	Now, Head, Counts string
	Alerts            []string
	Mute              []string // why notices reach nobody
	Strip             string   // that something cannot be seen, where the rest stands first
	Unseen            []unseenField
	Late              []dueBed
	Groups            []dueGroup
	How               string
	Standing          []standingBed
	Forecast          []string
	Credits           string
	Empty, NoField    bool
}

type unseenField struct {
	Field, Why string
	Beds       []dueBed
}

type dueBed struct {
	ID                int64
	Name, Crop, Field string
	Mass, Why, Chance string
	Notes             []string
	Look              string // night to report on; empty: nothing to look at
	Hours             string // that it can be worked, where its neighbours have others
	chance            float64
}

// standingBed is a bed that nothing in sight ends.
type standingBed struct {
	ID                int64
	Name, Crop, Field string
	Spare             string // degrees between the coldest night and what it stands
	Night, Low        string
	Stands, Chance    string
	margin            float64
}

func showDue(v *visit) error {
	beds, p, err := v.judgedBeds()
	if err != nil {
		return err
	}
	d := duePage{Now: v.speaker.When(v.now), Empty: len(beds) == 0, NoField: len(p.order) == 0}
	d.lay(v, beds)
	if d.Alerts, err = v.warnings(p); err != nil {
		return err
	}
	if d.Mute, err = v.unheard(); err != nil {
		return err
	}
	d.Forecast, d.Credits = v.forecasts(beds)
	return v.show("due", v.say("page.due"), d)
}

// judgedBeds are the standing beds of the farm with their verdicts.
func (v *visit) judgedBeds() ([]judged, *places, error) {
	p, err := v.places()
	if err != nil {
		return nil, p, err
	}
	beds, err := v.books().Beds(v.ctx(), v.farm.ID, store.BedFilter{})
	if err != nil {
		return nil, p, err
	}
	kept, err := v.books().Verdicts(v.ctx(), v.farm.ID)
	if err != nil {
		return nil, p, err
	}
	out := make([]judged, 0, len(beds))
	for _, b := range beds {
		f, err := p.field(b.FieldID)
		if err != nil {
			return nil, p, err
		}
		out = append(out, v.judge(b, f, p.zone(f.ID), kept[b.ID]))
	}
	return out, p, nil
}

// lay puts every bed where it belongs.
func (d *duePage) lay(v *visit, beds []judged) {
	for _, j := range beds {
		switch by, ok := j.verdict.HarvestBefore.Get(); {
		case j.unseen():
			d.addUnseen(v, j)
		case j.verdict.State == farm.TooLate, ok && !by.After(v.now):
			d.Late = append(d.Late, v.lateBed(j))
		case ok:
			d.addDue(v, j, by)
		default:
			d.Standing = append(d.Standing, v.standingLine(j))
		}
	}
	slices.SortStableFunc(d.Groups, func(a, b dueGroup) int { return a.by.Compare(b.by) })
	slices.SortStableFunc(d.Standing, func(a, b standingBed) int { return cmp.Compare(a.margin, b.margin) })
	for i := range d.Groups {
		d.Groups[i].sum(v)
	}
	d.count(v)
}

// count says what matters most in one line, and how many of each there are.
func (d *duePage) count(v *visit) {
	unseen, outs, fields := []dueBed{}, 0, []string{}
	for _, u := range d.Unseen {
		unseen = append(unseen, u.Beds...)
		if !slices.Contains(fields, u.Field) {
			fields = append(fields, u.Field)
		}
	}
	for _, g := range d.Groups {
		outs += len(g.beds)
	}
	switch {
	case len(d.Groups) > 0:
		d.Head = v.aboutBeds("due.head", d.Groups[0].named(), "when", d.Groups[0].Deadline)
	case len(d.Late) > 0:
		d.Head = v.aboutBeds("due.head_late", d.Late)
	case len(unseen) > 0:
		d.Head = v.aboutBeds("due.head_unseen", unseen)
	case d.Empty:
		d.Head = v.say("due.head_empty")
	default:
		d.Head = v.say("due.head_none")
	}
	if len(unseen) > 0 && (outs > 0 || len(d.Late) > 0) {
		d.Strip = v.say("due.strip", "n", fmt.Sprint(len(unseen)), "fields", strings.Join(fields, ", "))
	}
	var parts []string
	for _, c := range []struct {
		key string
		n   int
	}{{"due.count_due", outs}, {"due.count_late", len(d.Late)}, {"due.count_stand", len(d.Standing)}, {"due.count_unseen", len(unseen)}} {
		if c.n > 0 {
			parts = append(parts, v.say(c.key, "n", fmt.Sprint(c.n)))
		}
	}
	d.Counts = strings.Join(parts, ", ")
}

// aboutBeds says something of one bed by its name, of several by their number.
func (v *visit) aboutBeds(key string, beds []dueBed, pairs ...string) string {
	if len(beds) == 1 {
		key += "_one"
	}
	return v.say(key, append(pairs, "bed", beds[0].Name, "n", fmt.Sprint(len(beds)))...)
}

func (d *duePage) addUnseen(v *visit, j judged) {
	why := v.unseenWhy(j)
	bed := dueBed{ID: j.bed.ID, Name: j.bed.Name, Crop: v.cropName(j.bed.Crop, j.bed.Variety)}
	for i, u := range d.Unseen {
		if u.Field == j.field.Name && u.Why == why {
			d.Unseen[i].Beds = append(u.Beds, bed)
			return
		}
	}
	d.Unseen = append(d.Unseen, unseenField{Field: j.field.Name, Why: why, Beds: []dueBed{bed}})
}

func (v *visit) dueBed(j judged) dueBed {
	b := dueBed{ID: j.bed.ID, Name: j.bed.Name, Crop: v.cropName(j.bed.Crop, j.bed.Variety), Field: j.field.Name, Why: v.why(j)}
	if p, ok := j.verdict.Likelihood.Get(); ok {
		b.Chance, b.chance = v.speaker.Chance(p), p
	}
	if kg, ok := j.bed.StandingKg.Get(); ok && kg > 0 {
		b.Mass = v.speaker.Units.Mass(kg)
	}
	if kind := j.bed.CoverOn(farm.DayOf(v.now, j.zone)); kind != "none" {
		b.Notes = append(b.Notes, v.say("due.under", "cover", v.say("cover."+kind)))
	}
	if until, ok := j.bed.QuietUntil.Get(); ok && v.now.Before(until) {
		b.Notes = append(b.Notes, v.say("due.left_alone", "until", v.at(j.zone).When(until)))
	}
	return b
}

// lateBed is a bed that no hours are left for, or that a night has taken.
func (v *visit) lateBed(j judged) dueBed {
	b := v.dueBed(j)
	if j.verdict.AlreadyLost {
		b.Why, b.Chance, b.Look = notice.ReasonText(v.at(j.zone), j.verdict), "", string(j.verdict.Night)
	} else if j.verdict.Night != "" {
		b.Why = capital(v.at(j.zone).Night(j.verdict.Night)) + ": " + b.Why
	}
	return b
}

func (v *visit) standingLine(j judged) standingBed {
	s, d := v.at(j.zone), j.verdict
	out := standingBed{ID: j.bed.ID, Name: j.bed.Name, Crop: v.cropName(j.bed.Crop, j.bed.Variety), Field: j.field.Name, margin: 1e9}
	low, okLow := d.TissueLow.Get()
	stands, okStands := d.ToleranceThen.Get()
	if okLow && okStands {
		out.margin = float64(low.Minus(stands))
		out.Spare, out.Stands = spare(s.Units.Difference(low.Minus(stands))), s.Temperature(stands)
		out.Low = v.say("organ."+string(d.Organ)) + " " + s.Temperature(low)
	}
	if d.Night != "" {
		out.Night = s.Date(d.Night.Noon(s.Zone))
	}
	if p, ok := d.Likelihood.Get(); ok {
		out.Chance = s.Chance(p)
	}
	return out
}

// spare shortens "12.0 °F" to "12 °F".
func spare(s string) string { return strings.Replace(s, ".0 ", " ", 1) }

// forecasts says how old the forecast of each field is, and whom to credit.
func (v *visit) forecasts(beds []judged) (lines []string, credits string) {
	seen := map[string]bool{}
	var cs []string
	for _, j := range beds {
		b := j.verdict.Forecast
		if b.ID == 0 {
			continue
		}
		line := notice.ForecastLine(v.at(j.zone), b, v.now)
		if key := b.Source + b.Issued.String(); !seen[key] {
			seen[key] = true
			lines = append(lines, line)
		}
		if b.Credit != "" && !slices.Contains(cs, b.Credit) {
			cs = append(cs, b.Credit)
		}
	}
	if len(cs) > 0 {
		credits = v.say("body.credit", "credit", strings.Join(cs, "; "))
	}
	return lines, credits
}
