package skill

import (
	"fmt"
	"strings"

	"winterstand/internal/unit"
)

// Text is the report for a terminal of 80 columns, temperatures in the reader's units.
func (r Report) Text(units unit.System) string {
	var b strings.Builder
	w := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	w("Verdicts that could be scored: %d, of nights %s to %s.", r.Cases, orDash(string(r.From)), orDash(string(r.To)))
	w("Outcome not known yet, or the bed was not exposed: %d.", r.Unknown)
	w("An event is a night that takes more than %.0f %% of a bed.", 100*r.LossShare)
	if r.Cases == 0 {
		w("Nothing to score.")
		return b.String()
	}
	w("")
	w("%-26s%10s%10s%14s%12s", "", "hits", "misses", "false alarms", "quiet")
	w("%-26s%10d%10d%14d%12d", "notices", r.Verdicts.Hits, r.Verdicts.Misses, r.Verdicts.FalseAlarms, r.Verdicts.CorrectNegatives)
	w("Of the events %s were announced; of the notices %s came to nothing.", percent(r.Verdicts.HitRate()), percent(r.Verdicts.FalseAlarmRatio()))
	w("Time from notice to loss: shortest %s, median %s, longest %s.", hours(r.Lead.Shortest), hours(r.Lead.Median), hours(r.Lead.Longest))
	r.Brier.text(w)
	days(w, r.ByLead)
	r.valueText(w, units)
	return b.String()
}

type writer func(format string, a ...any)

func (s Brier) text(w writer) {
	w("")
	w("Likelihoods: Brier score %s (0 is perfect), skill %s", three(s.Score), three(s.Skill))
	w("= reliability %s - resolution %s + uncertainty %s + within bins %s", three(s.Reliability), three(s.Resolution), three(s.Uncertainty), three(s.WithinBins))
	w("%-14s%10s%12s%12s", "stated", "cases", "mean", "came true")
	for _, k := range s.Table {
		w("%-14s%10d%12s%12s", fmt.Sprintf("%3.0f to %3.0f %%", 100*k.From, 100*k.To), k.Cases, percent(k.Stated), percent(k.Observed))
	}
}

func days(w writer, scores []DayScore) {
	w("")
	w("%-14s%10s%10s%10s%14s%10s%10s", "days ahead", "cases", "hits", "misses", "false alarms", "quiet", "Brier")
	for _, d := range scores {
		c := d.Verdicts
		w("%-14d%10d%10d%10d%14d%10d%10s", d.LeadDays, c.Cases(), c.Hits, c.Misses, c.FalseAlarms, c.CorrectNegatives, three(d.Brier.Score))
	}
}

func (r Report) valueText(w writer, units unit.System) {
	alarm := "alarm " + units.Temperature(r.Alarm)
	v := r.Value
	w("")
	w("Value of acting on it: 1 perfect, 0 no better than knowing how often it happens")
	w("(%d cases with a raw forecast low and a list threshold, %d events).", v.Cases, v.Events)
	w("%-14s%14s%16s%16s", "cost / loss", "winterstand", alarm, "crop list")
	for _, p := range v.Curve {
		w("%-14.2f%14s%16s%16s", p.CostLoss, value(p.Ours), value(p.FixedAlarm), value(p.CropList))
	}
}

func three(m unit.Maybe[float64]) string {
	v, ok := m.Get()
	if !ok {
		return "undefined"
	}
	return fmt.Sprintf("%.3f", unsigned(v, 0.0005))
}

func value(m unit.Maybe[float64]) string {
	v, ok := m.Get()
	if !ok {
		return "undefined"
	}
	return fmt.Sprintf("%.2f", unsigned(v, 0.005))
}

// unsigned drops the sign of what rounds to zero.
func unsigned(v, half float64) float64 {
	if v < 0 && v > -half {
		return 0
	}
	return v
}

func percent(m unit.Maybe[float64]) string {
	v, ok := m.Get()
	if !ok {
		return "-"
	}
	return fmt.Sprintf("%.0f %%", 100*v)
}

func hours(m unit.Maybe[float64]) string {
	v, ok := m.Get()
	if !ok {
		return "-"
	}
	return fmt.Sprintf("%.0f h", v)
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
