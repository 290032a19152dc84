package skill

import "winterstand/internal/unit"

// Brier is the mean squared error of the stated likelihoods (Brier 1950, Mon.
// Wea. Rev. 78:1), 0 at best, with its parts after Murphy 1973 (J. Appl. Meteor.
// 12:595): Score = Reliability − Resolution + Uncertainty + WithinBins. The
// last part is what the two others leave over because likelihoods differ
// within a bin (Stephenson, Coelho & Jolliffe 2008, Wea. Forecasting 23:752;
// all three from memory). Everything is missing where there are no rows.
type Brier struct {
	Score       unit.Maybe[float64] `json:"score"`
	Reliability unit.Maybe[float64] `json:"reliability"` // smaller is better
	Resolution  unit.Maybe[float64] `json:"resolution"`  // larger is better
	Uncertainty unit.Maybe[float64] `json:"uncertainty"` // of the weather itself
	WithinBins  unit.Maybe[float64] `json:"within_bins"`
	Skill       unit.Maybe[float64] `json:"skill"` // against always stating the mean frequency; missing where that is exact
	Table       []Bin               `json:"reliability_table"`
}

// Bin is one row of the reliability table: likelihoods from From up to less
// than To, the last one including 1.
type Bin struct {
	From     float64             `json:"from"`
	To       float64             `json:"to"`
	Cases    int                 `json:"cases"`
	Stated   unit.Maybe[float64] `json:"stated"`   // mean likelihood
	Observed unit.Maybe[float64] `json:"observed"` // share in which it came
}

func brierOf(rows []scored, bins int) Brier {
	n := float64(len(rows))
	if n == 0 {
		return Brier{}
	}
	count, stated, came := make([]float64, bins), make([]float64, bins), make([]float64, bins)
	squares, events := 0.0, 0.0
	for _, r := range rows {
		k := min(int(r.Likelihood*float64(bins)), bins-1)
		o := 0.0
		if r.event {
			o = 1
		}
		count[k]++
		stated[k] += r.Likelihood
		came[k] += o
		events += o
		squares += (r.Likelihood - o) * (r.Likelihood - o)
	}
	base, rel, res := events/n, 0.0, 0.0
	table := make([]Bin, bins)
	for k := range table {
		table[k] = Bin{From: float64(k) / float64(bins), To: float64(k+1) / float64(bins), Cases: int(count[k]),
			Stated: ratio(stated[k], count[k]), Observed: ratio(came[k], count[k])}
		if count[k] > 0 {
			p, o := stated[k]/count[k], came[k]/count[k]
			rel += count[k] / n * (p - o) * (p - o)
			res += count[k] / n * (o - base) * (o - base)
		}
	}
	score, unc := squares/n, base*(1-base)
	b := Brier{Score: unit.Some(score), Reliability: unit.Some(rel), Resolution: unit.Some(res), Uncertainty: unit.Some(unc),
		WithinBins: unit.Some(score - (rel - res + unc)), Table: table}
	if s, ok := ratio(score, unc).Get(); ok {
		b.Skill = unit.Some(1 - s)
	}
	return b
}
