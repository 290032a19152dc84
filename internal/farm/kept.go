package farm

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/unit"
)

// Blindness is why a bed cannot be judged; empty: it can.
type Blindness string

// The ways to be blind.
const (
	NotJudged  Blindness = "not_judged" // nobody has looked at it yet
	NoForecast Blindness = "none"       // no forecast at all
	TooOld     Blindness = "old"        // older than the farm bears
	FromFuture Blindness = "future"     // stamped with a time to come: nothing tells its age
	Holes      Blindness = "holes"      // Missing says what it lacks
)

// FutureSlack is how far ahead a time of issue may lie before it is taken for an
// error: clocks differ by minutes, not hours. Own default.
const FutureSlack = time.Hour

// CannotSee is why a forecast of a time of issue is not to be relied on now;
// empty: it is. A zero time: there is none.
func (f Farm) CannotSee(issued, now time.Time) Blindness {
	switch {
	case issued.IsZero():
		return NoForecast
	case issued.After(now.Add(FutureSlack)):
		return FromFuture
	case now.Sub(issued) > f.BlindAfter:
		return TooOld
	}
	return ""
}

// Kept is a verdict as the book keeps it. What it says was true when it was
// judged; only At says what it is worth now, so that no reader can forget that a
// forecast ages while the rounds stand still. The zero value: never judged.
type Kept struct {
	judged Verdict
	known  bool
}

// Keep makes a verdict one to be kept.
func Keep(v Verdict) Kept { return Kept{judged: v, known: true} }

// AsJudged is the verdict as it was when it was judged, for the book and for
// looking back; false: never judged.
func (k Kept) AsJudged() (Verdict, bool) { return k.judged, k.known }

// At is what the verdict is worth on its farm now. One whose forecast the farm
// cannot rely on, and a bed that was never judged, is Unknown, with the reason in
// Blind; a deadline that has passed is too late; hours that have passed are no
// windows.
func (k Kept) At(now time.Time, f Farm) Verdict {
	if !k.known {
		return Verdict{State: Unknown, Blind: NotJudged}
	}
	v := k.judged
	if why := f.CannotSee(v.Forecast.Issued, now); why != "" && v.State != Unknown {
		return v.blinded(why)
	}
	v.Windows = comingWindows(v.Windows, now)
	if by, ok := v.HarvestBefore.Get(); ok && !by.After(now) {
		v.State, v.HarvestBefore, v.LastWindow = TooLate, unit.None[time.Time](), unit.None[Window]()
	}
	return v
}

// blinded leaves of a verdict only what it rests on, and what a night that has
// passed did: neither depends on a forecast.
func (v Verdict) blinded(why Blindness) Verdict {
	return Verdict{State: Unknown, Blind: why, AsOf: v.AsOf, Organ: v.Organ, LossShare: v.LossShare, CostLoss: v.CostLoss,
		SoldLeft: v.SoldLeft, Cover: v.Cover, MulchCm: v.MulchCm, Members: v.Members, Spread: v.Spread,
		HistoryHours: v.HistoryHours, DefaultStart: v.DefaultStart, Forecast: v.Forecast}
}

// comingWindows leaves out windows that have passed and begins the running one now.
func comingWindows(all []Window, now time.Time) []Window {
	out := slices.DeleteFunc(slices.Clone(all), func(w Window) bool { return !w.End.After(now) })
	for i := range out {
		if out[i].Start.Before(now) {
			out[i].Start = now
		}
	}
	return out
}

// MarshalJSON is the verdict as judged; null: never judged.
func (k Kept) MarshalJSON() ([]byte, error) {
	if !k.known {
		return []byte("null"), nil
	}
	return json.Marshal(k.judged)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (k *Kept) UnmarshalJSON(body []byte) error {
	if string(body) == "null" {
		*k = Kept{}
		return nil
	}
	var v Verdict
	if err := json.Unmarshal(body, &v); err != nil {
		return fmt.Errorf("read verdict: %w", err)
	}
	*k = Keep(v)
	return nil
}
