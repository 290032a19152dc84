package notice_test

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/unit"
)

var (
	chicago = func() *time.Location {
		z, err := time.LoadLocation("America/Chicago")
		if err != nil {
			panic(err)
		}
		return z
	}()
	rules = notice.Rules{Lead: 72 * time.Hour, MovedStep: 6 * time.Hour, Zone: chicago}
)

// on is a local hour of a day in November 2025.
func on(day, hour int) time.Time { return time.Date(2025, 11, day, hour, 0, 0, 0, chicago) }

func nightOf(day int) farm.Day { return farm.Day(on(day, 12).Format(time.DateOnly)) }

// seen puts a verdict on a forecast issued at an hour.
func seen(v farm.Verdict, issued time.Time) farm.Verdict {
	v.CostLoss, v.LossShare, v.Forecast.Issued, v.Forecast.Source = 0.2, 0.2, issued, "nws"
	if v.SoldLeft == 0 && !v.AlreadyLost && v.State != farm.Unknown {
		v.SoldLeft = 1
	}
	return v
}

// hurt is a verdict after a night that took some of the bed.
func hurt(v farm.Verdict) farm.Verdict {
	v.SoldLeft = 0.9
	return v
}

// harvest is a verdict: before 16 h of a day, the danger in the night that
// follows it or so many nights later, with a window every day from 8 to 16 h.
func harvest(day, nightsLater int, p float64) farm.Verdict {
	v := farm.Verdict{State: farm.HarvestBefore, Cause: farm.LeafFreeze, Night: nightOf(day + nightsLater),
		Danger: unit.Some(on(day+nightsLater+1, 4)), HarvestBefore: unit.Some(on(day, 16)), Likelihood: unit.Some(p),
		LastWindow: unit.Some(farm.Window{Start: on(day, 8), End: on(day, 16)})}
	for d := 10; d <= day; d++ {
		v.Windows = append(v.Windows, farm.Window{Start: on(d, 8), End: on(d, 16)})
	}
	for d := 10; d < 30; d++ {
		n := farm.NightRisk{Night: nightOf(d)}
		if d >= day+nightsLater {
			n.Likelihood = p
		}
		v.Nights = append(v.Nights, n)
	}
	return v
}

// still leaves a likelihood on the nights before the danger.
func still(v farm.Verdict, p float64) farm.Verdict {
	for i := range v.Nights {
		v.Nights[i].Likelihood = max(p, v.Nights[i].Likelihood)
	}
	return v
}

func tooLate(day int, p float64) farm.Verdict {
	return farm.Verdict{State: farm.TooLate, Cause: farm.LeafFreeze, Night: nightOf(day), Likelihood: unit.Some(p), Danger: unit.Some(on(day+1, 4))}
}

func holds(p float64) farm.Verdict {
	return farm.Verdict{State: farm.Holds, Night: nightOf(20), Likelihood: unit.Some(p)}
}

func lostIn(day int) farm.Verdict {
	return farm.Verdict{State: farm.TooLate, Cause: farm.LeafFreeze, AlreadyLost: true, Night: nightOf(day), Likelihood: unit.Some(1.0)}
}

func unknown() farm.Verdict {
	return farm.Verdict{State: farm.Unknown, Missing: []farm.Gap{{What: farm.GapAir, Hours: 12, Of: 48}}}
}

// next is what notice.Next decides of a moment.
func next(e farm.Event, v farm.Verdict, r notice.Rules, now time.Time, answered, muted bool) (farm.Event, *notice.Draft) {
	d := notice.Next(notice.Moment{Event: e, Verdict: v, Rules: r, Now: now, Answered: answered, Muted: muted})
	return d.Event, d.Draft
}
