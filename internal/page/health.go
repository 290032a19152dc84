package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/ledger"
	"winterstand/internal/microclimate"
	"winterstand/internal/notice"
	"winterstand/internal/unit"
	"winterstand/internal/watch"
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
	return []Fact{{v.say("channel." + ledger.Email), set(ledger.Email)}, {v.say("channel." + ledger.SMS), set(ledger.SMS)}}
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
		} else if !errors.Is(err, ledger.ErrNotFound) {
			return h, err
		}
		h.Sources = append(h.Sources, Fact{v.say("source." + source), text})
	}
	_, asked, err := watch.Alerts(v.ctx(), v.books(), f.CellID, v.now)
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
	newest := map[string]ledger.Notice{}
	for _, kind := range []string{notice.Blind, notice.SightAgain} {
		last, err := v.books().Notices(v.ctx(), v.farm.ID, ledger.NoticeFilter{FieldID: fieldID, Kind: kind, Page: ledger.Page{Limit: 1}})
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
		h.Trouble = append(h.Trouble, f.Sight.Trouble...)
	}
	return nil
}

// lastMessages are those that the page counts and lists.
const lastMessages = 200

func (v *visit) messageHealth(d *healthPage) error {
	messages, err := v.books().Messages(v.ctx(), v.farm.ID, ledger.Page{Limit: lastMessages})
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
	for _, state := range []string{ledger.Queued, ledger.Sent, ledger.GivenUp, ledger.Dropped} {
		d.Messages = append(d.Messages, Fact{v.say("health." + state), fmt.Sprint(counts[state])})
	}
	return nil
}

// learned are the farm's own numbers: field biases and crop tolerances.
func (v *visit) learned(p *places) ([]learned, error) {
	var out []learned
	for _, id := range p.order {
		l, err := v.bias(p.fields[id].Name, id)
		if err != nil {
			return nil, err
		}
		out = append(out, l...)
	}
	taught, err := v.books().Memos(v.ctx(), watch.ToleranceMemo)
	if err != nil {
		return nil, err
	}
	prefix := fmt.Sprintf("farm:%d/", v.farm.ID)
	for owner, body := range taught {
		rest, ok := strings.CutPrefix(owner, prefix)
		if !ok {
			continue
		}
		var t watch.Taught
		if err := json.Unmarshal(body, &t); err != nil {
			return nil, fmt.Errorf("learned tolerance %s: %w", owner, err)
		}
		crop, variety, _ := strings.Cut(rest, "/")
		out = append(out, v.taught(v.cropName(crop, variety), owner, t))
	}
	slices.SortFunc(out, func(a, b learned) int { return strings.Compare(a.Kind+a.What, b.Kind+b.What) })
	return out, nil
}

func (v *visit) bias(field string, id int64) ([]learned, error) {
	owner := fmt.Sprintf("field:%d", id)
	body, err := v.books().Memo(v.ctx(), owner, watch.BiasMemo)
	if errors.Is(err, ledger.ErrNotFound) {
		return nil, nil
	}
	var b microclimate.FieldBias
	if err == nil {
		err = json.Unmarshal(body, &b)
	}
	if err != nil {
		return nil, fmt.Errorf("learned bias of field %d: %w", id, err)
	}
	var parts []string
	for key, l := range map[string]microclimate.Learned{"calm": b.Calm, "other": b.Other} {
		if l.Nights > 0 {
			parts = append(parts, v.say("health.bias_"+key, "difference", v.warmer(unit.Kelvins(l.MeanK)), "n", fmt.Sprint(l.Nights)))
		}
	}
	if len(parts) == 0 {
		return nil, nil
	}
	slices.Sort(parts)
	return []learned{{Text: field + ": " + strings.Join(parts, " "), Kind: watch.BiasMemo, Owner: owner, What: field}}, nil
}

// warmer says a difference with its direction in words.
func (v *visit) warmer(k unit.Kelvins) string {
	if k < 0 {
		return v.say("health.colder", "difference", v.speaker.Units.Difference(-k))
	}
	return v.say("health.warmer", "difference", v.speaker.Units.Difference(k))
}

func (v *visit) taught(crop, owner string, t watch.Taught) learned {
	key, k := "health.stands_more", -t.Offset
	if t.Offset > 0 {
		key, k = "health.stands_less", t.Offset
	}
	text := v.say(key, "crop", crop, "difference", v.speaker.Units.Difference(k), "n", fmt.Sprint(t.Nights),
		"sigma", v.speaker.Units.Difference(t.Sigma))
	return learned{Text: text, Kind: watch.ToleranceMemo, Owner: owner, What: crop}
}

// forget drops a learned number and has the farm's beds judged again.
func forget(v *visit) error {
	kind, owner := v.field("kind"), v.field("owner")
	p, err := v.places()
	if err != nil {
		return err
	}
	if !v.owns(p, kind, owner) {
		return ledger.ErrNotFound
	}
	err = v.Desk.Store.Write(v.ctx(), func(w ledger.Writer) error {
		if err := w.DropMemo(v.ctx(), owner, kind); err != nil {
			return err
		}
		for id := range p.cells {
			if err := w.Enqueue(v.ctx(), ledger.Job{CellID: id}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return v.to("/health", "forgotten")
}

// owns tells whether a learned number is this farm's.
func (v *visit) owns(p *places, kind, owner string) bool {
	switch kind {
	case watch.ToleranceMemo:
		return strings.HasPrefix(owner, fmt.Sprintf("farm:%d/", v.farm.ID))
	case watch.BiasMemo:
		id, ok := strings.CutPrefix(owner, "field:")
		return ok && p.fields[number(id)].ID != 0
	}
	return false
}
