package forecast

import (
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/weather"
)

// Limits of age, by the time of issue.
type Limits struct {
	Warn     time.Duration // older: say so
	Unusable time.Duration // older: nothing may be called safe on it
}

// DefaultLimits: 12 and 24 h. Own default; public services renew their point
// forecasts every 1 to 12 hours.
var DefaultLimits = Limits{Warn: 12 * time.Hour, Unusable: 24 * time.Hour}

// Grade says how far a forecast may be relied on for its age.
type Grade int

// From good to bad.
const (
	Fresh Grade = iota
	Aging       // usable, its age must be told
	Expired
)

// Age is the age of a forecast and what it means.
type Age struct {
	Old   time.Duration
	Grade Grade
}

// Stale judges a forecast by its time of issue. A missing time of issue, or one
// well in the future, is as bad as an expired one: nothing tells its age.
func Stale(f weather.Forecast, now time.Time, l Limits) Age {
	old := now.Sub(f.Issued)
	switch {
	case f.Issued.IsZero():
		return Age{Grade: Expired}
	case old < -farm.FutureSlack, old > l.Unusable:
		return Age{Old: old, Grade: Expired}
	case old > l.Warn:
		return Age{Old: old, Grade: Aging}
	}
	return Age{Old: max(0, old)}
}
