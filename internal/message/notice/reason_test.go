package notice_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

func inMetric() phrase.Speaker {
	return phrase.Speaker{Book: book, Language: "en", Units: unit.Metric, Zone: time.UTC}
}

// doomed is a verdict with every figure, as the sentences name them.
func doomed() farm.Verdict {
	return farm.Verdict{State: farm.HarvestBefore, Cause: farm.LeafFreeze, Organ: crop.Leaf, Night: "2025-11-14", AirLow: c(-8), AirLowP10: c(-11), TissueLow: c(-9), TissueLowP10: c(-12),
		Tolerance: c(-5), ToleranceThen: c(-6), LossShare: 0.2, Likelihood: unit.Some(0.7)}
}

func TestTheReasonHasASentenceForEachFact(t *testing.T) {
	const leaf = "In the night of Fri 14 Nov the air at the bed falls to about -8.0 °C, 1 time in 10 to -11.0 °C or colder; the leaf to about -9.0 °C, 1 time in 10 to -12.0 °C. As hardened as it will be by then, it begins to spoil near -6.0 °C."
	const spared = "In the most likely course it would stand: the chance is that of a colder night, or of plants less hardy than the book has them."
	for _, x := range []struct {
		name   string
		change func(*farm.Verdict)
		want   string
	}{
		{"leaves freeze", func(*farm.Verdict) {}, leaf},
		{"the middle course spares it", func(v *farm.Verdict) { v.TissueLow = c(-5.9) },
			strings.Replace(leaf, "about -9.0 °C", "about -5.9 °C", 1) + " " + spared},
		{"just as cold as it stands", func(v *farm.Verdict) { v.TissueLow = c(-6) }, strings.Replace(leaf, "about -9.0 °C", "about -6.0 °C", 1)},
		{"the ground shuts", func(v *farm.Verdict) { v.Cause, v.TissueLow = farm.GroundFrozen, c(-1) },
			"By the night of Fri 14 Nov the ground freezes so hard that a fork no longer breaks it, for as far as the forecast sees."},
		{"a little snow", func(v *farm.Verdict) { v.Snow, v.Frozen = unit.Some(1.4), unit.Some(1.4) }, leaf},
		{"snow and frost", func(v *farm.Verdict) { v.Snow, v.Frozen = unit.Some(1.5), unit.Some(3.0) }, leaf + " Snow on the bed: 2 cm. Frost in the ground: 3 cm."},
		{"little history", func(v *farm.Verdict) { v.DefaultStart, v.HistoryHours = true, 40 }, leaf + " " +
			"Of the last two weeks only 40 h of weather are known for this place, so its hardening is partly a guess from the season, with a wider spread."},
		{"no tenth is known", func(v *farm.Verdict) {
			v.AirLowP10, v.TissueLowP10 = unit.None[unit.Celsius](), unit.None[unit.Celsius]()
		},
			strings.NewReplacer("to -11.0 °C or colder", "to -8.0 °C or colder", "to -12.0 °C.", "to -9.0 °C.").Replace(leaf)},
		{"nothing is known of then", func(v *farm.Verdict) { v.ToleranceThen = unit.None[unit.Celsius]() }, strings.Replace(leaf, "near -6.0", "near -5.0", 1)},
		{"nothing was found", func(v *farm.Verdict) { v.NothingLeft, v.AlreadyLost = true, true }, "After the night of Fri 14 Nov you found nothing left of it."},
		{"lost by the model", func(v *farm.Verdict) { v.AlreadyLost = true }, "By the model the night of Fri 14 Nov took it (-8.0 °C at the bed). Only a look can tell."},
		{"it holds", func(v *farm.Verdict) { v.State = farm.Holds }, "As far as the forecast sees, this bed can stand. The night that comes closest is the night of Fri 14 Nov: the air at the bed falls to about -8.0 °C, 1 time in 10 to -11.0 °C or colder. The leaf itself stands to about -6.0 °C."},
		{"it holds, no night is cold", func(v *farm.Verdict) { v.State, v.AirLow = farm.Holds, unit.None[unit.Celsius]() }, "As far as the forecast sees, this bed can stand."},
		{"not judged", func(v *farm.Verdict) { v.State, v.Blind = farm.Unknown, farm.NotJudged }, "Not judged yet: no forecast has been looked at for this bed."},
		{"blind of old", func(v *farm.Verdict) { v.State, v.Missing = farm.Unknown, []farm.Gap{{What: farm.GapForecast}} }, "Missing: " + notice.Missing(inMetric(), []farm.Gap{{What: farm.GapForecast}}) + "."},
	} {
		v := doomed()
		x.change(&v)
		assert.Equal(t, x.want, notice.ReasonText(inMetric(), v), x.name)
	}
}

// The chance of the loss and of the crown, in the words of a mail.
func TestAMailSaysTheChancesAndWhatHelps(t *testing.T) {
	body := func(change func(*farm.Verdict)) string {
		v := doomed()
		v.HarvestBefore = unit.Some(on(14, 16))
		change(&v)
		return strings.Join(notice.Words(inMetric(), about(notice.HarvestBefore, &v), on(13, 12)).Body, "\n")
	}
	const chance, crown = "Chance of losing more than 20 % of it: 7 in 10.", "Even if the leaves go, the crown is likely to live and regrow (5 in 10)."
	assert.Contains(t, body(func(*farm.Verdict) {}), chance)
	assert.NotContains(t, body(func(v *farm.Verdict) { v.Likelihood = unit.None[float64]() }), "Chance of losing")
	ground := body(func(v *farm.Verdict) { v.Cause = farm.GroundFrozen })
	assert.Contains(t, ground, "Chance that the ground stays shut: 7 in 10.")
	assert.NotContains(t, ground, "Chance of losing")
	assert.Contains(t, body(func(v *farm.Verdict) { v.Regrowth = unit.Some(0.5) }), crown)
	assert.NotContains(t, body(func(v *farm.Verdict) { v.Regrowth = unit.Some(0.49) }), "the crown is likely")
	assert.NotContains(t, body(func(v *farm.Verdict) { v.Regrowth, v.Organ = unit.Some(0.9), crop.Crown }), "the crown is likely", "where the crown is what is judged")
	assert.NotContains(t, body(func(*farm.Verdict) {}), "the crown is likely")
	helped := body(func(v *farm.Verdict) {
		v.Helps = []farm.Help{{Cover: "low_tunnel", Likelihood: 0.1, Holds: true}, {Cover: "row_cover_light", Likelihood: 0.5}}
	})
	assert.Less(t, strings.Index(helped, "low tunnel"), strings.Index(helped, "row cover"), "in the order they were tried")
}
