package nws

import (
	"regexp"
	"strconv"

	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// metar is what is read of a METAR when the decoded fields are empty.
type metar struct{ air, dewPoint, wind unit.Maybe[float64] }

// Groups of a METAR (WMO-No. 306 FM 15; the T group is a US remark, FMH-1
// §12.7.2: sign, then tenths of a degree).
var (
	tenthsGroup = regexp.MustCompile(`(?:^|\s)T([01])(\d{3})([01])(\d{3})(?:\s|=|$)`)
	windGroup   = regexp.MustCompile(`(?:^|\s)(?:\d{3}|VRB)(\d{2,3})(?:G\d{2,3})?(KT|MPS)(?:\s|$)`)
)

func parseMETAR(raw string) metar {
	var m metar
	if t := tenthsGroup.FindStringSubmatch(raw); t != nil {
		m.air, m.dewPoint = tenths(t[1], t[2], weather.Air), tenths(t[3], t[4], weather.DewPoint)
	}
	if w := windGroup.FindStringSubmatch(raw); w != nil {
		n, _ := strconv.ParseFloat(w[1], 64)
		unitLabel := map[string]string{"KT": "kt", "MPS": "m/s"}[w[2]]
		if ms, err := fetch.Convert(weather.Wind, unitLabel, n); err == nil {
			m.wind = unit.Some(ms)
		}
	}
	return m
}

func tenths(sign, digits string, q weather.Quantity) unit.Maybe[float64] {
	n, _ := strconv.ParseFloat(digits, 64)
	if sign == "1" {
		n = -n
	}
	v, err := fetch.Convert(q, "degC", n/10)
	if err != nil {
		return unit.None[float64]()
	}
	return unit.Some(v)
}
