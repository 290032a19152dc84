package forecast

import (
	"fmt"
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
	Old    time.Duration
	Grade  Grade
	Reason string // empty when Fresh
}

// Stale judges a forecast by its time of issue. A missing time of issue, or one
// well in the future, is as bad as an expired one: nothing tells its age.
func Stale(f weather.Forecast, now time.Time, l Limits) Age {
	old := now.Sub(f.Issued)
	issued := f.Issued.UTC().Format(time.RFC3339)
	switch {
	case f.Issued.IsZero():
		return Age{Grade: Expired, Reason: "the forecast does not say when it was issued"}
	case old < -farm.FutureSlack:
		return Age{Old: old, Grade: Expired, Reason: fmt.Sprintf("the forecast says it was issued at %s, which is in the future: check this computer's clock", issued)}
	case old > l.Unusable:
		return Age{Old: old, Grade: Expired, Reason: fmt.Sprintf("the forecast is %.0f h old (issued %s), more than %.0f h", old.Hours(), issued, l.Unusable.Hours())}
	case old > l.Warn:
		return Age{Old: old, Grade: Aging, Reason: fmt.Sprintf("the forecast is %.0f h old (issued %s)", old.Hours(), issued)}
	}
	return Age{Old: max(0, old)}
}
