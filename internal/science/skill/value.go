package skill

import (
	"math"

	"winterstand/internal/unit"
)

// Comparison holds the service's likelihoods against two rules that need no
// service, on the rows for which all three can say something.
type Comparison struct {
	Cases      int          `json:"cases"`       // rows with forecast low and list threshold
	Events     int          `json:"events"`      // among them
	FixedAlarm Contingency  `json:"fixed_alarm"` // act when the forecast low is at or below the alarm
	CropList   Contingency  `json:"crop_list"`   // act when it is at or below the crop's list threshold
	Curve      []ValuePoint `json:"curve"`
}

// ValuePoint is the relative economic value for growers of one cost–loss ratio.
type ValuePoint struct {
	CostLoss   float64             `json:"cost_loss"`
	Ours       unit.Maybe[float64] `json:"ours"` // acting when the likelihood reaches the ratio
	FixedAlarm unit.Maybe[float64] `json:"fixed_alarm"`
	CropList   unit.Maybe[float64] `json:"crop_list"`
}

// Expense is the mean expense of acting on verdicts, as a share of the loss, for
// a grower whose cost of acting is costLoss of it (Murphy 1977, Mon. Wea. Rev.
// 105:803). Missing without rows.
func Expense(c Contingency, costLoss float64) unit.Maybe[float64] {
	return ratio(float64(c.Hits+c.FalseAlarms)*costLoss+float64(c.Misses), float64(c.Cases()))
}

// Value is the relative economic value V = (E_clim − E)/(E_clim − E_perfect):
// 1 for a perfect forecast, 0 for knowing only how often it happens, below 0
// where one would do better without (Richardson 2000, Q. J. R. Meteorol. Soc.
// 126:649). It is not defined, and missing, where knowing the frequency alone is
// already perfect: when the loss never or always came.
func Value(c Contingency, costLoss float64) unit.Maybe[float64] {
	spent, ok := Expense(c, costLoss).Get()
	if !ok {
		return unit.None[float64]()
	}
	base := float64(c.Events()) / float64(c.Cases())
	climate := math.Min(costLoss, base)
	return ratio(climate-spent, climate-base*costLoss)
}

func compare(rows []scored, opt Options) Comparison {
	var common []scored
	for _, r := range rows {
		if r.AirLowForecast.Known() && r.ListThreshold.Known() {
			common = append(common, r)
		}
	}
	out := Comparison{Cases: len(common)}
	out.FixedAlarm = tally(common, func(s scored) bool { return atOrBelow(s.AirLowForecast, opt.Alarm) })
	out.CropList = tally(common, func(s scored) bool {
		limit, ok := s.ListThreshold.Get()
		return ok && atOrBelow(s.AirLowForecast, limit)
	})
	out.Events = out.FixedAlarm.Events()
	for _, cl := range opt.Ratios {
		ours := tally(common, func(s scored) bool { return s.Likelihood >= cl })
		out.Curve = append(out.Curve, ValuePoint{CostLoss: cl, Ours: Value(ours, cl), FixedAlarm: Value(out.FixedAlarm, cl), CropList: Value(out.CropList, cl)})
	}
	return out
}

func atOrBelow(low unit.Maybe[unit.Celsius], limit unit.Celsius) bool {
	c, ok := low.Get()
	return ok && c <= limit
}
