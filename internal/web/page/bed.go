package page

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
	"golang.org/x/sync/errgroup"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/picture"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
)

var bedsScreen = Screen{Routes: func(s *Site, r chi.Router) {
	form(s, r, "/beds/new", newBed, addBed)
	r.Get("/beds/{id}", s.signed(showBed))
	form(s, r, "/beds/{id}/change", changeBedForm, changeBed)
	r.Post("/beds/{id}/cover", s.change(coverBed))
	r.Post("/beds/{id}/mulch", s.change(mulchBed))
	r.Post("/beds/{id}/harvested", s.change(harvestBed))
	r.Post("/beds/{id}/clear", s.change(clearBed))
}}

// bedPage is one bed with all that is known of it.
type bedPage struct {
	ID                int64
	Name, Crop, Field string
	Facts             []Fact
	Cleared           string
	Head, Reason      string
	Left              *Left
	Late, Unseen      bool
	Lines             []string // chance, regrowth
	Windows           []string
	Helps             []string
	Cautions          []string
	Picture           template.HTML
	Table             picture.Table
	NoPicture         string
	Forecast, Credit  string
	WhatIf            *whatIf
	Covers            []Choice
	CoverNow          string
	MulchNow          string
	DepthUnit         string
	Unit              string // of mass
	StandingKnown     bool
	History           []noticeLine
	Problem           string
}

// Fact is a term and what it is.
type Fact struct{ Term, Text string }

func showBed(v *visit) error { return v.bedPage("") }

// bedPage lays the page of a bed out; problem says what was wrong with a small
// form on it.
func (v *visit) bedPage(problem string) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	j, err := v.oneBed(id)
	if err != nil {
		return err
	}
	d := v.bedOf(j)
	d.Problem = problem
	// Both try the coming days on the bed: side by side they take half the time.
	var both errgroup.Group
	both.Go(safely(func() error { return v.see(&d, j) }))
	both.Go(safely(func() (err error) { d.WhatIf, err = v.whatIf(j); return err }))
	if err := both.Wait(); err != nil {
		return err
	}
	notices, err := v.books().Notices(v.ctx(), v.farm.ID, store.NoticeFilter{BedID: id, Page: store.Page{Limit: 20}})
	if err != nil {
		return err
	}
	if err := v.told(&d, j, notices); err != nil {
		return err
	}
	status := http.StatusOK
	if problem != "" {
		status = http.StatusUnprocessableEntity
	}
	v.write(status, "bed", j.bed.Name+", "+d.Crop, d)
	return nil
}

// safely turns a panic into an error: on a goroutine of its own nobody else would
// catch it, and it would end the whole service.
func safely(do func() error) func() error {
	return func() (err error) {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("panic: %v", p)
			}
		}()
		return do()
	}
}

func (v *visit) oneBed(id int64) (judged, error) {
	b, err := v.books().Bed(v.ctx(), v.farm.ID, id)
	if err != nil {
		return judged{}, err
	}
	p, err := v.places()
	if err != nil {
		return judged{}, err
	}
	f, err := p.field(b.FieldID)
	if err != nil {
		return judged{}, err
	}
	kept, err := v.books().Verdict(v.ctx(), id)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return judged{}, err
	}
	return v.judge(b, f, p.zone(f.ID), kept), nil
}

func (v *visit) bedOf(j judged) bedPage {
	b, s, today := j.bed, v.at(j.zone), farm.DayOf(v.now, j.zone)
	d := bedPage{ID: b.ID, Name: b.Name, Crop: v.cropName(b.Crop, b.Variety), Field: j.field.Name,
		Covers: v.choices("cover.kind", "cover", ""), CoverNow: b.CoverOn(today), DepthUnit: depthIn(s.Units).unit,
		MulchNow: depthIn(s.Units).write(b.MulchOn(today)), Unit: massIn(s.Units).unit, StandingKnown: b.StandingKg.Known()}
	d.Facts = v.bedFacts(j, today)
	if t, ok := b.ClearedAt.Get(); ok {
		d.Cleared = v.say("bed.cleared", "when", s.When(t))
		return d
	}
	v.verdictOf(&d, j)
	return d
}

func (v *visit) bedFacts(j judged, today farm.Day) []Fact {
	b, s := j.bed, v.at(j.zone)
	facts := []Fact{{v.say("label.field"), j.field.Name}, {v.say("label.purpose"), v.say("purpose." + string(b.Purpose))}}
	add := func(label, text string) { facts = append(facts, Fact{v.say("label." + label), text}) }
	if kg, ok := b.StandingKg.Get(); ok {
		add("standing", s.Units.Mass(kg))
	}
	add("cover", v.say("cover."+b.CoverOn(today)))
	if cm := b.MulchOn(today); cm > 0 {
		add("mulch", s.Units.Depth(cm))
	}
	if day, ok := b.SownOn.Get(); ok {
		text := s.Date(day.Noon(j.zone))
		if !b.Sown(today).Known() {
			text = v.say("bed.sown_ahead", "date", s.Date(day.Noon(j.zone))+" "+string(day)[:4])
		}
		add("sown_on", text)
	}
	if t, ok := b.QuietUntil.Get(); ok && v.now.Before(t) {
		add("quiet_until", s.When(t))
	}
	return facts
}

// verdictOf says the verdict at large.
func (v *visit) verdictOf(d *bedPage, j judged) {
	s, w := v.at(j.zone), j.verdict
	by, ok := w.HarvestBefore.Get()
	switch {
	case j.unseen():
		d.Unseen, d.Head, d.Reason = true, v.say("state.unknown"), v.unseenWhy(j)
		return
	case w.State == farm.TooLate, ok && !by.After(v.now):
		d.Late, d.Head = true, v.say("state.too_late")
	case ok:
		left := v.left(by.Sub(v.now))
		d.Left, d.Head = &left, v.say("state.harvest_before", "deadline", s.When(by))
	default:
		d.Head = v.say("state.holds")
	}
	d.Reason = notice.ReasonText(s, w)
	if c := v.chance(w); c != "" && !w.AlreadyLost {
		d.Lines = append(d.Lines, c)
	}
	if p, ok := w.Regrowth.Get(); ok && p >= 0.5 && w.State != farm.Holds {
		d.Lines = append(d.Lines, v.say("reason.regrowth", "chance", s.Chance(p)))
	}
	d.Windows = v.spans(s, before(w.Windows, v.now, until(by, ok, w)))
	if len(d.Windows) > maxWindows {
		d.Windows = d.Windows[:maxWindows]
	}
	d.Forecast = notice.ForecastLine(s, w.Forecast, v.now)
	if w.Forecast.Credit != "" {
		d.Credit = v.say("body.credit", "credit", w.Forecast.Credit)
	}
}

const maxWindows = 10

// until is the end of the hours worth showing: the deadline, else all there are.
func until(by time.Time, ok bool, w farm.Verdict) time.Time {
	if ok || len(w.Windows) == 0 {
		return by
	}
	return w.Windows[len(w.Windows)-1].End
}

// see draws the coming days; what cannot be seen is said instead.
func (v *visit) see(d *bedPage, j judged) error {
	if j.bed.ClearedAt.Known() {
		return nil
	}
	o, err := v.Judge.Outlook(v.ctx(), v.farm.ID, j.bed.ID)
	var blind *scene.Blind
	if errors.As(err, &blind) {
		d.NoPicture = v.say("bed.no_picture", "reason", notice.Unseen(v.at(j.zone), blind.Verdict))
		return nil
	}
	if err != nil {
		return fmt.Errorf("outlook of bed %d: %w", j.bed.ID, err)
	}
	drawn := v.Draw(o, j.bed.Name, d.Crop, v.at(j.zone))
	d.Picture, d.Table = template.HTML(picture.SVG(drawn)), drawn.Table() // made by us, its texts escaped
	return nil
}

// told adds what was said about the bed before, and what would help by the
// newest of it.
func (v *visit) told(d *bedPage, j judged, notices []store.Notice) error {
	var facts []notice.Facts
	for _, n := range notices {
		line, f, err := v.noticeLine(n)
		if err != nil {
			return err
		}
		d.History = append(d.History, line)
		if f.Verdict != nil && f.Verdict.Night == j.verdict.Night && len(facts) == 0 && !d.Unseen {
			facts = append(facts, f)
		}
	}
	if d.Cleared != "" || d.Unseen {
		return nil
	}
	if len(facts) > 0 && (d.Late || d.Left != nil) {
		d.Helps = v.helps(facts[0])
	} else if d.Late {
		d.Helps = []string{v.say("help.too_late")}
	}
	now := notice.Facts{BedID: j.bed.ID, Crop: j.bed.Crop, Verdict: &j.verdict}
	d.Cautions = notice.Cautions(v.at(j.zone), append(facts, now))
	return nil
}

func (v *visit) helps(f notice.Facts) []string {
	var out []string
	for _, h := range f.Verdict.Helps {
		key := "help.cover"
		if h.Holds {
			key = "help.cover_holds"
		}
		out = append(out, v.say(key, "cover", notice.HelpName(v.speaker, h), "chance", v.speaker.Chance(h.Likelihood)))
	}
	if len(out) == 0 && f.Verdict.State == farm.HarvestBefore {
		out = append(out, v.say("help.none"))
	}
	if f.Verdict.State == farm.TooLate {
		out = append(out, v.say("help.too_late"))
	}
	return out
}
