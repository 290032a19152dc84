package page

import (
	"errors"
	"fmt"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/scene"
)

// whatIf is the question under a bed's picture and, when it was asked, the answer.
type whatIf struct {
	Cover, Mulch string
	Covers       []Choice
	Unit         string
	Asked        bool
	Wrong        string
	Head, Text   string
	Now          string
}

// whatIf judges the bed as it would be; nothing is changed by it.
func (v *visit) whatIf(j judged) (*whatIf, error) {
	if j.bed.ClearedAt.Known() {
		return nil, nil
	}
	q := v.r.URL.Query()
	w := &whatIf{Cover: q.Get("cover"), Mulch: strings.TrimSpace(q.Get("mulch")), Unit: depthIn(v.speaker.Units).unit,
		Covers: append([]Choice{{"", v.say("whatif.as_it_is")}}, v.choices("cover.kind", "cover", "")...)}
	w.Asked = w.Cover != "" || w.Mulch != ""
	if !w.Asked {
		return w, nil
	}
	ask, err := v.question(w)
	if err != nil || w.Wrong != "" {
		return w, err
	}
	got, err := v.Judge.WhatIf(v.ctx(), v.farm.ID, j.bed.ID, ask.Cover.Else(""), ask.MulchCm)
	var blind *scene.Blind
	if errors.As(err, &blind) {
		w.Wrong = v.say("bed.no_picture", "reason", notice.Unseen(v.at(j.zone), blind.Verdict))
		return w, nil
	}
	if err != nil {
		return w, fmt.Errorf("what if on bed %d: %w", j.bed.ID, err)
	}
	v.answerWhatIf(w, j, got)
	return w, nil
}

func (v *visit) question(w *whatIf) (commands.WhatIf, error) {
	in := commands.WhatIfInput{}
	if w.Cover != "" {
		in.Cover = commands.Set(w.Cover)
	}
	if w.Mulch != "" {
		cm, ok := depthIn(v.speaker.Units).read(w.Mulch)
		if !ok {
			w.Wrong = v.say("form.number")
			return commands.WhatIf{}, nil
		}
		in.MulchCm = commands.Set(cm)
	}
	ask, err := in.Ask()
	var wrong *commands.Invalid
	if !errors.As(err, &wrong) {
		return ask, err
	}
	w.Wrong = v.say("form.choose")
	if wrong.Problems[0].Field == "mulch_cm" {
		w.Wrong = v.rangeSaid(commands.Limits["whatif.mulch_cm"], depthIn(v.speaker.Units))
	}
	return ask, nil
}

func (v *visit) answerWhatIf(w *whatIf, j judged, got farm.Verdict) {
	s := v.at(j.zone)
	under := v.say("cover." + orNone(got.Cover))
	if got.MulchCm > 0 {
		under += ", " + v.say("cover.mulch", "depth", s.Units.Depth(got.MulchCm))
	}
	w.Head = v.say("whatif.with", "what", under, "verdict", v.headline(j, got))
	w.Text = strings.TrimSpace(notice.ReasonText(s, got) + " " + v.chance(got))
	if !j.unseen() {
		w.Now = v.say("whatif.now", "verdict", v.headline(j, j.verdict), "chance", v.chance(j.verdict))
	}
}

func orNone(cover string) string {
	if cover == "" {
		return "none"
	}
	return cover
}

// headline is a verdict in one short sentence.
func (v *visit) headline(j judged, d farm.Verdict) string {
	if by, ok := d.HarvestBefore.Get(); ok {
		return v.say("state.harvest_before", "deadline", v.at(j.zone).When(by))
	}
	return v.say("state." + string(d.State))
}
