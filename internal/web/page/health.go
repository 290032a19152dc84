package page

import (
	"errors"
	"fmt"
	"slices"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/message/notice"
	"winterstand/internal/service/round"
	"winterstand/internal/store"
)

var healthScreen = Screen{Path: "/health", Name: "page.health", Routes: func(s *Site, r chi.Router) {
	r.Get("/health", s.signed(showHealth))
	r.Post("/health/forget", s.change(forget))
}}

// healthPage is what a farm should know of the service itself.
type healthPage struct {
	Mute     []string
	Fields   []fieldHealth
	Messages []Fact
	Last     []string // newest deliveries, those with errors first named
	Troubled []string
	Learned  []learned
	Setup    []Fact
}

type fieldHealth struct {
	Name     string
	Sources  []Fact
	Alerts   string
	Unplaced bool
	Trouble  []string
}

// learned is one number that the farm has taught, with how to forget it.
type learned struct{ Text, Kind, Owner, What string }

func showHealth(v *visit) error {
	p, err := v.places()
	if err != nil {
		return err
	}
	d := healthPage{}
	if d.Mute, err = v.unheard(); err != nil {
		return err
	}
	for _, id := range p.order {
		f, err := v.fieldHealth(p, id)
		if err != nil {
			return err
		}
		d.Fields = append(d.Fields, f)
	}
	if err := v.messageHealth(&d); err != nil {
		return err
	}
	if d.Learned, err = v.learned(p); err != nil {
		return err
	}
	d.Setup = v.setup()
	return v.show("health", v.say("page.health"), d)
}

func (v *visit) setup() []Fact {
	set := func(channel string) string {
		if slices.Contains(v.Channels, channel) {
			return v.say("health.set_up")
		}
		return v.say("health.not_set_up")
	}
	return []Fact{{v.say("channel." + store.Email), set(store.Email)}, {v.say("channel." + store.SMS), set(store.SMS)}}
}

// fieldHealth says for each source how old its forecast of a field is.
func (v *visit) fieldHealth(p *places, id int64) (fieldHealth, error) {
	f, s := p.fields[id], v.at(p.zone(id))
	h := fieldHealth{Name: f.Name, Unplaced: f.CellID == 0}
	if h.Unplaced {
		return h, v.trouble(&h, id)
	}
	for _, source := range v.Sources {
		doc, err := v.books().LastForecast(v.ctx(), f.CellID, source)
		text := v.say("health.no_forecast")
		if err == nil {
			text = v.say("health.forecast", "issued", s.When(doc.Issued), "age", s.Ago(v.now.Sub(doc.Issued)),
				"checked", s.Ago(v.now.Sub(doc.Checked)))
			if v.now.Sub(doc.Issued) > v.farm.BlindAfter {
				text = v.say("health.too_old", "text", text)
			}
		} else if !errors.Is(err, store.ErrNotFound) {
			return h, err
		}
		h.Sources = append(h.Sources, Fact{v.say("source." + source), text})
	}
	_, asked, err := round.Alerts(v.ctx(), v.books(), f.CellID, v.now)
	if err != nil {
		return h, err
	}
	h.Alerts = v.say("health.alerts_never")
	if !asked.IsZero() {
		h.Alerts = v.say("health.alerts", "age", s.Ago(v.now.Sub(asked)))
	}
	return h, v.trouble(&h, id)
}

// trouble is what was told when the field last went blind, unless it has been
// seen again since.
func (v *visit) trouble(h *fieldHealth, fieldID int64) error {
	newest := map[string]store.Notice{}
	for _, kind := range []string{notice.Blind, notice.SightAgain} {
		last, err := v.books().Notices(v.ctx(), v.farm.ID, store.NoticeFilter{FieldID: fieldID, Kind: kind, Page: store.Page{Limit: 1}})
		if err != nil {
			return err
		}
		if len(last) > 0 {
			newest[kind] = last[0]
		}
	}
	blind := newest[notice.Blind]
	if blind.ID == 0 || blind.ID < newest[notice.SightAgain].ID {
		return nil
	}
	line, f, err := v.noticeLine(blind)
	if err != nil {
		return err
	}
	h.Trouble = []string{line.Text}
	if f.Sight != nil {
		if len(f.Sight.Missing) > 0 {
			h.Trouble = append(h.Trouble, notice.Missing(v.speaker, f.Sight.Missing))
		}
		h.Trouble = append(h.Trouble, notice.Troubles(v.speaker, f.Sight.Trouble)...)
	}
	return nil
}

// lastMessages are those that the page counts and lists.
const lastMessages = 200

func (v *visit) messageHealth(d *healthPage) error {
	messages, err := v.books().Messages(v.ctx(), v.farm.ID, store.Page{Limit: lastMessages})
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	counts := map[string]int{}
	for _, m := range messages {
		counts[m.State]++
		line := v.delivery(m, names[m.RecipientID], v.speaker)
		if m.LastError != "" && len(d.Troubled) < 10 {
			d.Troubled = append(d.Troubled, line)
		}
		if len(d.Last) < 10 {
			d.Last = append(d.Last, line)
		}
	}
	for _, state := range []string{store.Queued, store.Sent, store.GivenUp, store.Dropped} {
		d.Messages = append(d.Messages, Fact{v.say("health." + state), fmt.Sprint(counts[state])})
	}
	return nil
}
