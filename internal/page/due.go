package page

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/deadline"
	"winterstand/internal/farm"
	"winterstand/internal/ledger"
	"winterstand/internal/notice"
)

var dueScreen = Screen{Path: "/", Name: "page.due", Front: true, Routes: func(s *Site, r chi.Router) {
	r.Get("/", s.signed(showDue))
}}

// due is the first page: what must be out by when, then what stands.
type due struct {
	Now      string
	Counts   string
	Sentence string // the next thing to do, or that there is none
	Alerts   []Warning
	Mute     []string // why notices reach nobody
	Unseen   []unseenField
	Late     []dueBed
	Groups   []dueGroup
	Standing []standing
	Forecast []string
	Credits  string
	Empty    bool
	NoField  bool
	Caution  []string
}

// Warning is an official one in force.
type Warning struct{ Text, Headline string }

type unseenField struct {
	Field, Why string
	Beds       []dueBed
}

// dueGroup is beds that share a deadline and the hours of work before it.
type dueGroup struct {
	Left     Left
	Deadline string
	Worked   string
	Spans    []string
	Strip    template.HTML
	Beds     []dueBed
	by       time.Time
}

type dueBed struct {
	ID                 int64
	Name, Crop, Field  string
	Mass, Why, Chance  string
	Answered, HelpHint string
}

// standing is a bed that nothing in sight ends.
type standing struct {
	ID                int64
	Name, Crop, Field string
	Spare             string // degrees between the coldest night and what it stands
	Night, Low        string
	Stands, Chance    string
	room              float64
}

func showDue(v *visit) error {
	beds, p, err := v.judgedBeds()
	if err != nil {
		return err
	}
	d := due{Now: v.speaker.When(v.now), Empty: len(beds) == 0, NoField: len(p.order) == 0}
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
	beds, err := v.books().Beds(v.ctx(), v.farm.ID, ledger.BedFilter{})
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
		k, ok := kept[b.ID]
		j, err := v.judge(b, f, p.zone(f.ID), k, ok)
		if err != nil {
			return nil, p, err
		}
		out = append(out, j)
	}
	return out, p, nil
}

// lay puts every bed where it belongs.
func (d *due) lay(v *visit, beds []judged) {
	var next unitTime
	for _, j := range beds {
		switch by, ok := j.verdict.HarvestBefore.Get(); {
		case j.unseen():
			d.addUnseen(v, j)
		case j.verdict.State == deadline.TooLate, ok && !by.After(v.now):
			d.Late = append(d.Late, v.dueBed(j))
		case ok:
			d.addDue(v, j, by)
			next.earliest(by)
		default:
			d.Standing = append(d.Standing, v.standing(j))
		}
	}
	slices.SortStableFunc(d.Groups, func(a, b dueGroup) int { return a.by.Compare(b.by) })
	slices.SortStableFunc(d.Standing, func(a, b standing) int { return cmp.Compare(a.room, b.room) })
	d.count(v, len(beds))
}

// unitTime is an instant that may not be there yet.
type unitTime struct {
	t  time.Time
	ok bool
}

func (u *unitTime) earliest(t time.Time) {
	if !u.ok || t.Before(u.t) {
		u.t, u.ok = t, true
	}
}

func (d *due) count(v *visit, all int) {
	unseen, dueNow := 0, len(d.Late)
	for _, u := range d.Unseen {
		unseen += len(u.Beds)
	}
	for _, g := range d.Groups {
		dueNow += len(g.Beds)
	}
	parts := []string{v.say("due.count_due", "n", fmt.Sprint(dueNow)), v.say("due.count_stand", "n", fmt.Sprint(len(d.Standing)))}
	if unseen > 0 {
		parts = append(parts, v.say("due.count_unseen", "n", fmt.Sprint(unseen)))
	}
	d.Counts = strings.Join(parts, ", ") + "."
	if all > 0 && dueNow == 0 && unseen == 0 {
		d.Sentence = v.say("due.none")
	}
}

func (d *due) addUnseen(v *visit, j judged) {
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

func (d *due) addDue(v *visit, j judged, by time.Time) {
	s := v.at(j.zone)
	windows := before(j.verdict.Windows, v.now, by)
	spans := v.spans(s, windows)
	for i, g := range d.Groups {
		if g.by.Equal(by) && slices.Equal(g.Spans, spans) {
			d.Groups[i].Beds = append(g.Beds, v.dueBed(j))
			return
		}
	}
	hours := total(windows)
	g := dueGroup{by: by, Left: v.left(by.Sub(v.now)), Deadline: s.When(by), Spans: spans,
		Strip: strip(v.now, by, j.zone, windows), Beds: []dueBed{v.dueBed(j)}}
	g.Worked = v.say("due.worked", "hours", s.Ago(hours))
	if hours == 0 {
		g.Worked = v.say("due.no_work")
	}
	d.Groups = append(d.Groups, g)
}

func (v *visit) dueBed(j judged) dueBed {
	b := dueBed{ID: j.bed.ID, Name: j.bed.Name, Crop: v.cropName(j.bed.Crop, j.bed.Variety), Field: j.field.Name,
		Why: v.why(j), Chance: v.chance(j.verdict)}
	if j.verdict.AlreadyLost {
		b.Why, b.Chance = notice.Reason(v.at(j.zone), j.verdict), ""
	}
	if kg, ok := j.bed.StandingKg.Get(); ok && kg > 0 {
		b.Mass = v.speaker.Units.Mass(kg)
	}
	if until, ok := j.bed.QuietUntil.Get(); ok && v.now.Before(until) {
		b.Answered = v.say("due.left_alone", "until", v.at(j.zone).When(until))
	}
	if kind := j.bed.CoverOn(farm.DayOf(v.now, j.zone)); kind != "none" {
		b.Answered = strings.TrimSpace(v.say("due.under", "cover", v.say("cover."+kind)) + " " + b.Answered)
	}
	return b
}

func (v *visit) standing(j judged) standing {
	s, d := v.at(j.zone), j.verdict
	out := standing{ID: j.bed.ID, Name: j.bed.Name, Crop: v.cropName(j.bed.Crop, j.bed.Variety), Field: j.field.Name, room: 1e9}
	low, okLow := d.TissueLow.Get()
	stands, okStands := d.ToleranceThen.Get()
	if okLow && okStands {
		out.room = float64(low.Minus(stands))
		out.Spare, out.Low, out.Stands = spare(s.Units.Difference(low.Minus(stands))), s.Temperature(low), s.Temperature(stands)
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
