package skill

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Worked by hand from the definitions of Murphy 1977 and Richardson 2000 for a
// table of 16 hits, 8 false alarms, 4 misses and 72 correct negatives.
func TestValueOfAWorkedTable(t *testing.T) {
	c := Contingency{Hits: 16, FalseAlarms: 8, Misses: 4, CorrectNegatives: 72}
	assert.InDelta(t, 0.064, Expense(c, 0.1).Else(99), 1e-12)
	for costLoss, want := range map[float64]float64{0.1: 0.45, 0.2: 0.70, 0.5: 0.4, 0.05: -0.05} {
		assert.InDelta(t, want, Value(c, costLoss).Else(99), 1e-12, "C/L %v", costLoss)
	}
	assert.InDelta(t, 0.8, c.HitRate().Else(99), 1e-12)
	assert.InDelta(t, 8.0/24, c.FalseAlarmRatio().Else(99), 1e-12)
	assert.InDelta(t, 0.1, c.FalseAlarmRate().Else(99), 1e-12)
	assert.InDelta(t, 16.0/28, c.ThreatScore().Else(99), 1e-12)
}

// Finley's tornado forecasts of 1884, the textbook table of forecast
// verification: 28 hits, 72 false alarms, 23 misses, 2680 correct negatives;
// hit rate 0.55, false alarm ratio 0.72, threat score 0.228 (Wilks, Statistical
// Methods in the Atmospheric Sciences, ch. 8, from memory).
func TestFinleyTable(t *testing.T) {
	c := Contingency{Hits: 28, FalseAlarms: 72, Misses: 23, CorrectNegatives: 2680}
	assert.Equal(t, 2803, c.Cases())
	assert.InDelta(t, 0.549, c.HitRate().Else(99), 0.0005)
	assert.InDelta(t, 0.720, c.FalseAlarmRatio().Else(99), 0.0005)
	assert.InDelta(t, 0.228, c.ThreatScore().Else(99), 0.0005)
}

func TestValueIsUndefinedWhereTheClimateIsPerfect(t *testing.T) {
	for name, c := range map[string]Contingency{
		"no rows":     {},
		"never came":  {FalseAlarms: 3, CorrectNegatives: 7},
		"always came": {Hits: 3, Misses: 7},
	} {
		assert.False(t, Value(c, 0.2).Known(), name)
	}
}

func TestValueBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 500)
		c := Contingency{n.Draw(t, "hits"), n.Draw(t, "misses"), n.Draw(t, "false"), n.Draw(t, "quiet")}
		cl := rapid.Float64Range(0.01, 0.99).Draw(t, "cl")
		v, ok := Value(c, cl).Get()
		if !ok {
			assert.True(t, c.Events() == 0 || c.Events() == c.Cases())
			return
		}
		assert.LessOrEqual(t, v, 1+1e-9)
		// Perfect verdicts are worth 1, and the better of always and never 0.
		perfect := Contingency{Hits: c.Events(), CorrectNegatives: c.Cases() - c.Events()}
		assert.InDelta(t, 1, Value(perfect, cl).Else(99), 1e-9)
		always := Contingency{Hits: c.Events(), FalseAlarms: c.Cases() - c.Events()}
		never := Contingency{Misses: c.Events(), CorrectNegatives: c.Cases() - c.Events()}
		assert.InDelta(t, 0, max(Value(always, cl).Else(-99), Value(never, cl).Else(-99)), 1e-9)
	})
}

func row(likelihood float64, acted bool, lost float64) Judged {
	return Judged{Bed: "b", Crop: "kale-curly", Night: "2025-11-14", Likelihood: likelihood, Acted: acted, Lost: unit.Some(lost)}
}

// rows builds an archive with a known table.
func rows(hits, falseAlarms, misses, quiet int) []Judged {
	var out []Judged
	add := func(n int, p float64, acted bool, lost, low float64) {
		for range n {
			r := row(p, acted, lost)
			r.AirLowForecast, r.ListThreshold = unit.Some(unit.Celsius(low)), unit.Some(unit.Celsius(-6))
			r.Lead = 30 * time.Hour
			out = append(out, r)
		}
	}
	add(hits, 0.8, true, 0.9, -10)
	add(falseAlarms, 0.6, true, 0.1, -5)
	add(misses, 0.1, false, 0.5, -3)
	add(quiet, 0, false, 0, 0)
	return out
}

func TestSyntheticArchiveGivesItsTable(t *testing.T) {
	pending := row(0.9, true, 0)
	pending.Lost = unit.None[float64]()
	r, err := Score(append(rows(16, 8, 4, 72), pending), DefaultOptions())
	require.NoError(t, err)
	assert.Equal(t, Contingency{Hits: 16, FalseAlarms: 8, Misses: 4, CorrectNegatives: 72}, r.Verdicts)
	assert.Equal(t, 100, r.Cases)
	assert.Equal(t, 1, r.Unknown, "an unknown outcome is not a quiet night")
	assert.Equal(t, Lead{Hits: 16, Shortest: unit.Some(30.0), Median: unit.Some(30.0), Longest: unit.Some(30.0)}, r.Lead)
	// 28 °F is -2.2 °C: the alarm goes off for everything but the quiet rows. The
	// list threshold -6 °C catches the hits alone.
	assert.Equal(t, Contingency{Hits: 20, FalseAlarms: 8, CorrectNegatives: 72}, r.Value.FixedAlarm)
	assert.Equal(t, Contingency{Hits: 16, Misses: 4, CorrectNegatives: 80}, r.Value.CropList)
	for _, p := range r.Value.Curve {
		if p.CostLoss == 0.2 { // likelihoods of at least 0.2 are the notices
			assert.InDelta(t, 0.70, p.Ours.Else(99), 1e-12)
			assert.InDelta(t, Value(r.Value.CropList, 0.2).Else(99), p.CropList.Else(-99), 1e-12)
		}
	}
	// (16·0.2² + 8·0.6² + 4·0.9²)/100
	assert.InDelta(t, 0.0676, r.Brier.Score.Else(99), 1e-12)
	assert.InDelta(t, 0.16, r.Brier.Uncertainty.Else(99), 1e-12)
	// bins 0.8: (0.8−1)²·0.16; 0.6: 0.6²·0.08; 0.1: 0.9²·0.04; 0: 0
	assert.InDelta(t, 0.0676, r.Brier.Reliability.Else(99), 1e-12)
	assert.InDelta(t, 0.16, r.Brier.Resolution.Else(99), 1e-12, "every bin holds one outcome only")
	assert.InDelta(t, 0, r.Brier.WithinBins.Else(99), 1e-12)
}

// Acting begins at the ratio, and at the temperature of an alarm: a likelihood of
// 0.2 acts for a ratio of 0.2 and not for 0.3, a low of 28 °F sets off the alarm.
// By hand, one event of two: acted on alone it is worth 1; never acting costs 0.5
// where always acting costs 0.3, (0.3-0.5)/(0.3-0.5·0.3) = -4/3.
func TestActingBeginsAtTheLimit(t *testing.T) {
	event, quiet := row(0.2, true, 1), row(0, false, 0)
	event.AirLowForecast, event.ListThreshold = unit.Some(unit.FromFahrenheit(28)), unit.Some(unit.FromFahrenheit(28))
	quiet.AirLowForecast, quiet.ListThreshold = unit.Some(unit.FromFahrenheit(28.01)), unit.Some(unit.FromFahrenheit(28))
	opt := DefaultOptions()
	opt.Ratios = []float64{0.2, 0.3}
	r, err := Score([]Judged{event, quiet}, opt)
	require.NoError(t, err)
	assert.Equal(t, Contingency{Hits: 1, CorrectNegatives: 1}, r.Value.FixedAlarm)
	assert.Equal(t, Contingency{Hits: 1, CorrectNegatives: 1}, r.Value.CropList)
	assert.InDelta(t, 1, r.Value.Curve[0].Ours.Else(-9), 1e-12)
	assert.InDelta(t, -4.0/3, r.Value.Curve[1].Ours.Else(-9), 1e-12)
	assert.Equal(t, 1, r.Value.Events)
}

func TestALossAtTheShareIsNoEvent(t *testing.T) {
	r, err := Score([]Judged{row(0, false, 0.2), row(0, false, 0.2000001)}, DefaultOptions())
	require.NoError(t, err)
	assert.Equal(t, Contingency{Misses: 1, CorrectNegatives: 1}, r.Verdicts)
}

func TestRulesAreComparedOnTheSameRows(t *testing.T) {
	all := rows(2, 0, 0, 2)
	all[0].AirLowForecast = unit.None[unit.Celsius]()
	all[1].ListThreshold = unit.None[unit.Celsius]()
	r, err := Score(all, DefaultOptions())
	require.NoError(t, err)
	assert.Equal(t, 4, r.Cases)
	assert.Equal(t, 2, r.Value.Cases)
	assert.Zero(t, r.Value.Events)
	for _, p := range r.Value.Curve {
		assert.False(t, p.Ours.Known(), "no event: the value is not defined")
	}
}

func TestScoreByDaysAhead(t *testing.T) {
	near, far := rows(3, 0, 0, 1), rows(1, 2, 1, 0)
	for i := range far {
		far[i].LeadDays = 5
	}
	r, err := Score(append(far, near...), DefaultOptions())
	require.NoError(t, err)
	require.Len(t, r.ByLead, 2)
	assert.Equal(t, 0, r.ByLead[0].LeadDays)
	assert.Equal(t, 4, r.ByLead[0].Verdicts.Cases())
	assert.Equal(t, Contingency{Hits: 1, FalseAlarms: 2, Misses: 1}, r.ByLead[1].Verdicts)
}

// A source that states p and is right in a share p of the cases is reliable:
// its reliability term tends to zero and its value is nowhere negative.
func TestReliableSourceScoresAsReliable(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	var all []Judged
	for range 40000 {
		p := chance.Float64() * chance.Float64()
		lost := 0.0
		if chance.Float64() < p {
			lost = 1
		}
		r := row(p, p > 0.2, lost)
		r.AirLowForecast, r.ListThreshold = unit.Some(unit.Celsius(0)), unit.Some(unit.Celsius(-6))
		all = append(all, r)
	}
	r, err := Score(all, DefaultOptions())
	require.NoError(t, err)
	assert.Less(t, r.Brier.Reliability.Else(99), 0.0005)
	assert.Greater(t, r.Brier.Skill.Else(-99), 0.1)
	for _, p := range r.Value.Curve {
		assert.Greater(t, p.Ours.Else(-99), -0.01, "C/L %v", p.CostLoss)
		assert.LessOrEqual(t, p.FixedAlarm.Else(99), 0.0, "a rule that never acts is worth nothing")
	}
}

func TestBrierPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []Judged
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			all = append(all, row(rapid.Float64Range(0, 1).Draw(t, "p"), rapid.Bool().Draw(t, "acted"), float64(rapid.IntRange(0, 1).Draw(t, "lost"))))
		}
		opt := DefaultOptions()
		opt.Bins = rapid.IntRange(1, 20).Draw(t, "bins")
		r, err := Score(all, opt)
		require.NoError(t, err)
		b := r.Brier
		cases := 0
		for _, k := range b.Table {
			cases += k.Cases
			assert.True(t, k.Cases == 0 || k.Stated.Else(-9) >= k.From-1e-9 && k.Stated.Else(9) <= k.To+1e-9)
		}
		assert.Equal(t, len(all), cases)
		assert.Equal(t, len(all), r.Verdicts.Cases())
		// The parts within bins by their own formula: variance of what was
		// stated less twice its covariance with what came.
		within := 0.0
		for _, a := range all {
			k := min(int(a.Likelihood*float64(opt.Bins)), opt.Bins-1)
			dp, do := a.Likelihood-b.Table[k].Stated.Else(0), a.Lost.Else(0)-b.Table[k].Observed.Else(0)
			within += (dp*dp - 2*dp*do) / float64(len(all))
		}
		assert.InDelta(t, within, b.WithinBins.Else(99), 1e-9)
	})
}

func TestRefusedRows(t *testing.T) {
	for name, change := range map[string]func(*Judged){
		"likelihood is NaN":  func(j *Judged) { j.Likelihood = math.NaN() },
		"likelihood above 1": func(j *Judged) { j.Likelihood = 1.1 },
		"loss below 0":       func(j *Judged) { j.Lost = unit.Some(-0.1) },
		"loss is NaN":        func(j *Judged) { j.Lost = unit.Some(math.NaN()) },
		"low is NaN":         func(j *Judged) { j.AirLowForecast = unit.Some(unit.Celsius(math.NaN())) },
		"negative lead":      func(j *Judged) { j.Lead = -time.Hour },
		"negative days":      func(j *Judged) { j.LeadDays = -1 },
	} {
		t.Run(name, func(t *testing.T) {
			j := row(0.5, true, 0.5)
			change(&j)
			_, err := Score([]Judged{j}, DefaultOptions())
			assert.ErrorContains(t, err, "row 1 (bed b, night 2025-11-14)")
		})
	}
	for name, change := range map[string]func(*Options){
		"no bins":  func(o *Options) { o.Bins = 0 },
		"ratio":    func(o *Options) { o.Ratios = []float64{1} },
		"ratio 0":  func(o *Options) { o.Ratios = []float64{0} },
		"share":    func(o *Options) { o.LossShare = math.NaN() },
		"no alarm": func(o *Options) { o.Alarm = unit.Celsius(math.NaN()) },
	} {
		opt := DefaultOptions()
		change(&opt)
		_, err := Score(nil, opt)
		assert.Error(t, err, name)
	}
}

func TestTextFitsEightyColumnsAndSaysWhatIsUndefined(t *testing.T) {
	for name, all := range map[string][]Judged{
		"nothing":   nil,
		"an event":  rows(16, 8, 4, 72),
		"no events": rows(0, 8, 0, 72),
		"many":      append(rows(1600, 800, 400, 7200), Judged{Night: farm.Day("2025-12-01"), LeadDays: 9, Lost: unit.Some(0.0)}),
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Score(all, DefaultOptions())
			require.NoError(t, err)
			for _, units := range []unit.System{unit.US, unit.Metric} {
				text := r.Text(units)
				for _, line := range strings.Split(text, "\n") {
					assert.LessOrEqual(t, len([]rune(line)), 80, line)
				}
				assert.NotContains(t, text, "NaN")
				assert.Equal(t, name == "no events", strings.Contains(text, "undefined"))
			}
		})
	}
}

func TestJSONShape(t *testing.T) {
	r, err := Score(rows(0, 1, 0, 1), DefaultOptions())
	require.NoError(t, err)
	b, err := json.Marshal(r)
	require.NoError(t, err)
	var got map[string]any
	require.NoError(t, json.Unmarshal(b, &got))
	for _, key := range []string{"loss_share", "cases", "unknown", "verdicts", "lead", "brier", "by_lead_days", "fixed_alarm_c", "value"} {
		assert.Contains(t, got, key)
	}
	point := got["value"].(map[string]any)["curve"].([]any)[0].(map[string]any)
	assert.Contains(t, point, "ours")
	assert.Nil(t, point["ours"], "undefined is null, never a number")
}
