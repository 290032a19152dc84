package nws

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// durationForm is what the service writes of ISO 8601: days, hours, minutes. Years and
// months have no fixed length and are refused. (The general-purpose parsers at
// hand accept malformed input such as "P1DPT4H".)
var durationForm = regexp.MustCompile(`^P(?:(\d{1,4})D)?(?:T(?:(\d{1,5})H)?(?:(\d{1,6})M)?)?$`)

// ParseDuration reads PnD, PTnH, PnDTnH and the like; it must be positive.
func ParseDuration(s string) (time.Duration, error) {
	m := durationForm.FindStringSubmatch(s)
	var d time.Duration
	if m != nil && !strings.HasSuffix(s, "T") {
		for i, length := range []time.Duration{24 * time.Hour, time.Hour, time.Minute} {
			if m[i+1] == "" {
				continue
			}
			n, err := strconv.Atoi(m[i+1])
			if err != nil {
				return 0, fmt.Errorf("duration %q: %w", s, err)
			}
			d += time.Duration(n) * length
		}
	}
	if d <= 0 {
		return 0, fmt.Errorf("duration %q: must be like PT6H, P2D or P1DT4H", s)
	}
	return d, nil
}

// parseInterval reads "start/duration" as UTC.
func parseInterval(s string) (start, end time.Time, err error) {
	from, length, found := strings.Cut(s, "/")
	if !found {
		return start, end, fmt.Errorf("%q: must be a time, a slash and a duration", s)
	}
	if start, err = parseTime(from); err != nil {
		return start, end, err
	}
	d, err := ParseDuration(length)
	return start, start.Add(d), err
}
