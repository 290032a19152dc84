package page

import (
	"slices"
	"strings"

	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/round"
	"winterstand/internal/store"
)

// warnings are the official ones in force at the farm's fields.
func (v *visit) warnings(p *places) ([]string, error) {
	var out []string
	seen := map[int64]bool{}
	for _, id := range p.order {
		f := p.fields[id]
		if f.CellID == 0 || seen[f.CellID] {
			continue
		}
		seen[f.CellID] = true
		alerts, _, err := round.Alerts(v.ctx(), v.books(), f.CellID, v.now)
		if err != nil {
			return nil, err
		}
		for _, a := range alerts {
			w := v.warning(p, f, a)
			if !slices.Contains(out, w) {
				out = append(out, w)
			}
		}
	}
	return out, nil
}

func (v *visit) warning(p *places, f store.Field, a notice.Alert) string {
	until := ""
	if t, ok := a.Ends.Get(); ok {
		until = v.say("body.alert_until", "when", v.at(p.zone(f.ID)).When(t))
	}
	return v.say("body.alert", "event", a.Event, "until", until, "sender", a.Sender)
}

// unheard says why harvest-before notices reach nobody, or not everybody who is
// meant to act on them; empty: they do.
func (v *visit) unheard() ([]string, error) {
	recipients, err := v.books().Recipients(v.ctx(), v.farm.ID, store.Page{})
	if err != nil {
		return nil, err
	}
	if len(v.Channels) == 0 {
		return []string{v.say("unheard.no_channel")}, nil
	}
	if len(recipients) == 0 {
		return []string{v.say("unheard.nobody")}, nil
	}
	var deaf []string
	for _, r := range recipients {
		if !slices.ContainsFunc(v.Channels, func(c string) bool { return announce.Wants(r, c, notice.HarvestBefore) }) {
			deaf = append(deaf, r.Name)
		}
	}
	switch len(deaf) {
	case 0:
		return nil, nil
	case len(recipients):
		return []string{v.say("unheard.all")}, nil
	}
	return []string{v.say("unheard.some", "names", strings.Join(deaf, ", "))}, nil
}
