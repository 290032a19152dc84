package page

import (
	"fmt"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/science/skill"
	"winterstand/internal/unit"
)

var skillScreen = Screen{Path: "/skill", Name: "skill.title", Routes: func(s *Site, r chi.Router) {
	r.Get("/skill", s.signed(showSkill))
}}

// skillPage is the score of past verdicts.
type skillPage struct {
	None     bool
	Cases    string
	Event    string
	Counts   []Fact
	Lead     string
	Brier    []Fact
	Reliable []reliable
	ByLead   []leadRow
	Alarm    string
	Compared string
	Curve    []valueRow
}

type reliable struct{ Stated, Came, Cases string }

type leadRow struct{ Days, Hits, Misses, False, Quiet, Brier string }

type valueRow struct{ Cost, Ours, Alarm, List string }

func showSkill(v *visit) error {
	r, err := v.Plans.Skill(v.ctx(), v.farm.ID)
	if err != nil {
		return err
	}
	return v.show("skill", v.say("skill.title"), v.skill(r))
}

func (v *visit) skill(r skill.Report) skillPage {
	if r.Cases == 0 {
		return skillPage{None: true}
	}
	day := func(d farm.Day) string { return v.date(d.Noon(v.speaker.Zone)) }
	d := skillPage{
		Cases: v.say("skill.cases", "n", strconv.Itoa(r.Cases), "from", day(r.From), "to", day(r.To), "unknown", strconv.Itoa(r.Unknown)),
		Event: v.say("skill.event", "share", percentOf(r.LossShare)), Counts: v.counts(r.Verdicts), Lead: v.leadTime(r.Lead), Brier: v.brier(r.Brier),
		Alarm:    v.say("skill.col_alarm", "limit", v.speaker.Temperature(r.Alarm)),
		Compared: v.say("skill.compared", "n", strconv.Itoa(r.Value.Cases), "events", strconv.Itoa(r.Value.Events)),
	}
	for _, b := range r.Brier.Table {
		if b.Cases > 0 {
			d.Reliable = append(d.Reliable, reliable{v.share(b.Stated), v.share(b.Observed), strconv.Itoa(b.Cases)})
		}
	}
	for _, l := range r.ByLead {
		d.ByLead = append(d.ByLead, leadRow{strconv.Itoa(l.LeadDays), strconv.Itoa(l.Verdicts.Hits), strconv.Itoa(l.Verdicts.Misses),
			strconv.Itoa(l.Verdicts.FalseAlarms), strconv.Itoa(l.Verdicts.CorrectNegatives), v.score(l.Brier.Score)})
	}
	for _, p := range r.Value.Curve {
		d.Curve = append(d.Curve, valueRow{percentOf(p.CostLoss), v.score(p.Ours), v.score(p.FixedAlarm), v.score(p.CropList)})
	}
	return d
}

func (v *visit) counts(c skill.Contingency) []Fact {
	return []Fact{{v.say("skill.hits"), strconv.Itoa(c.Hits)}, {v.say("skill.misses"), strconv.Itoa(c.Misses)},
		{v.say("skill.false_alarms"), strconv.Itoa(c.FalseAlarms)}, {v.say("skill.quiet"), strconv.Itoa(c.CorrectNegatives)}}
}

func (v *visit) leadTime(l skill.Lead) string {
	if l.Hits == 0 {
		return v.say("skill.lead_none")
	}
	hours := func(m unit.Maybe[float64]) string {
		return v.speaker.Ago(time.Duration(m.Else(0) * float64(time.Hour)))
	}
	return v.say("skill.lead_span", "shortest", hours(l.Shortest), "longest", hours(l.Longest), "median", hours(l.Median), "n", strconv.Itoa(l.Hits))
}

func (v *visit) brier(b skill.Brier) []Fact {
	facts := []Fact{{v.say("skill.brier"), v.score(b.Score) + ". " + v.say("skill.brier_how")}}
	return append(facts, Fact{v.say("skill.brier_versus"), v.say("skill.brier_skill", "skill", v.score(b.Skill))})
}

// score is a number without a unit, two digits.
func (v *visit) score(m unit.Maybe[float64]) string {
	if x, ok := m.Get(); ok {
		return fmt.Sprintf("%.2f", x)
	}
	return v.say("skill.undefined")
}

func (v *visit) share(m unit.Maybe[float64]) string {
	if x, ok := m.Get(); ok {
		return percentOf(x)
	}
	return "–"
}
