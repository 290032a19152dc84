package weatherfile

import (
	"fmt"
	"math"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// The hourly course between a day's minimum and maximum.
//
//   - The minimum falls at sunrise and the maximum 1.86 h after solar noon, a
//     quarter of a sine between them, and the same sine falls after it: Parton &
//     Logan 1981, Agric. Meteorol. 23:205, day part, lag a = 1.86 h (from memory).
//   - From two hours after sunset to the next sunrise the square-root trend of
//     the FAO frost manual: Snyder & de Melo-Abreu 2005, ch. 5,
//     T(i) = T2 + (Tmin−T2)·sqrt((i−2)/(n−2)).
//   - Sunrise and maximum are moved to the nearest full hour, so that the hours
//     really reach the minimum and the maximum.
//
// A calendar-day minimum that fell in the evening, under an incoming cold
// front, is put at that day's sunrise: earlier than it was, which is the safe
// side.
//
// Held against measured hours from October to May in a forest in Maine, the
// course is 2.5 K off (RMSE) and about 2 K too cold late in the evening; straight
// lines between the extremes are 2.0 K off there. The square-root trend is that
// of clear nights over open ground, which are the nights that decide.
const (
	peakLagHours  = 1.86
	nightLagHours = 2.0
	// A day without sunrise or sunset, and one that comes near it, gets a day
	// of 4 or 20 hours around solar noon (own default).
	shortestDayHours, longestDayHours = 4.0, 20.0
	// No clock on land runs further from the sun than about 3.5 h; dates in UTC
	// are allowed for all of the Americas.
	farthestZoneHours = 10
)

// FromDaily makes hours from daily minima and maxima, from the first day's
// minimum to the last day's maximum. Days must be in order of time; zone is
// that of their dates. A missing day or value leaves the hours that would rest
// on it missing: a minimum the night before and the morning after it, a maximum
// the day and the night that follow. Precipitation is spread evenly over the
// day, snow depth held through it.
func FromDaily(days []Day, lat, lon float64, zone *time.Location) ([]weather.Hour, error) {
	if err := checkDays(days, lat, lon, zone); err != nil {
		return nil, err
	}
	if len(days) == 0 {
		return nil, nil
	}
	solid := contiguous(days)
	anchors := make([]anchor, len(solid))
	for i, d := range solid {
		anchors[i] = anchorOf(d, lat, lon, zone)
	}
	start, end := anchors[0].rise, anchors[len(anchors)-1].peak
	hours := make([]weather.Hour, 0, int(end.Sub(start)/time.Hour)+1)
	day, leg := 0, 0 // of the calendar, and from sunrise to sunrise
	for at := start; !at.After(end); at = at.Add(time.Hour) {
		for leg+1 < len(anchors) && !at.Before(anchors[leg+1].rise) {
			leg++
		}
		for day+1 < len(solid) && !at.Before(anchors[day+1].midnight) {
			day++
		}
		h := weather.Hour{At: at, Air: course(at, anchors, leg), SnowDepth: solid[day].SnowDepth}
		if mm, ok := solid[day].Precip.Get(); ok {
			h.Precip = unit.Some(mm / anchors[day].hours)
		}
		hours = append(hours, h)
	}
	return hours, nil
}

func checkDays(days []Day, lat, lon float64, zone *time.Location) error {
	if !(lat >= -90 && lat <= 90) || !(lon >= -180 && lon <= 180) {
		return fmt.Errorf("hourly course from daily values: latitude %g and longitude %g are not a place; write degrees north and east", lat, lon)
	}
	if zone == nil {
		return fmt.Errorf("hourly course from daily values: no time zone of the dates")
	}
	_, offset := time.Unix(0, 0).In(zone).Zone()
	if off := math.Remainder(float64(offset)/3600-lon/15, 24); math.Abs(off) > farthestZoneHours {
		return fmt.Errorf("hourly course from daily values: time zone %s does not fit longitude %g; write degrees east, west negative, and the zone of the dates", zone, lon)
	}
	for i, d := range days {
		if _, err := farm.ParseDay(string(d.Date)); err != nil || !plausible(d.Date) {
			return fmt.Errorf("hourly course from daily values: %q is not a calendar day", d.Date)
		}
		if i > 0 && d.Date <= days[i-1].Date {
			return fmt.Errorf("hourly course from daily values: %s comes after %s; sort the days, each once", d.Date, days[i-1].Date)
		}
		if inverted(d) {
			return fmt.Errorf("hourly course from daily values: the minimum of %s is above its maximum", d.Date)
		}
		if bad(d.Min) || bad(d.Max) {
			return fmt.Errorf("hourly course from daily values: a temperature of %s is not a number", d.Date)
		}
	}
	return nil
}

func bad(m unit.Maybe[unit.Celsius]) bool {
	c, ok := m.Get()
	return ok && !c.Finite()
}

// contiguous puts empty days where the list has holes.
func contiguous(days []Day) []Day {
	out := make([]Day, 0, daysBetween(days[0].Date, days[len(days)-1].Date)+1)
	for _, d := range days {
		for len(out) > 0 && out[len(out)-1].Date.Add(1) < d.Date {
			out = append(out, Day{Date: out[len(out)-1].Date.Add(1)})
		}
		out = append(out, d)
	}
	return out
}

// anchor is the frame of one day's course.
type anchor struct {
	min, max    unit.Maybe[unit.Celsius]
	midnight    time.Time
	hours       float64 // of the calendar day
	rise, peak  time.Time
	quarter     float64 // hours of a quarter of the day's sine
	night       time.Time
	nightCosine float64 // of the day's sine when the night trend takes over
}

func anchorOf(d Day, lat, lon float64, zone *time.Location) anchor {
	noon, length := daylight(d.Date.Noon(zone), lat, lon)
	length = max(shortestDayHours, min(longestDayHours, length))
	a := anchor{min: d.Min, max: d.Max, midnight: d.Date.Start(zone), quarter: length/2 + peakLagHours}
	a.hours = d.Date.Add(1).Start(zone).Sub(a.midnight).Hours()
	a.rise = noon.Add(-hoursOf(length / 2)).Round(time.Hour).UTC()
	a.peak = noon.Add(hoursOf(peakLagHours)).Round(time.Hour).UTC()
	a.night = noon.Add(hoursOf(length/2 + nightLagHours)).UTC()
	a.nightCosine = math.Cos(math.Pi / 2 * a.night.Sub(a.peak).Hours() / a.quarter)
	return a
}

// daylight is the solar noon nearest to a civil noon and the hours of sun around
// it. Without a sunrise the noon is the mean sun's, up to 16 minutes off.
func daylight(civil time.Time, lat, lon float64) (noon time.Time, hours float64) {
	for _, day := range []time.Time{civil, civil.Add(-24 * time.Hour), civil.Add(24 * time.Hour)} {
		rise, set, up, ok := microclimate.Daylight(day, lat, lon)
		if !ok {
			off := math.Remainder(12-lon/15-float64(civil.UTC().Hour())-float64(civil.UTC().Minute())/60, 24)
			return civil.Add(hoursOf(off)), map[bool]float64{true: 24}[up]
		}
		noon, hours = rise.Add(set.Sub(rise)/2), set.Sub(rise).Hours()
		if noon.Sub(civil).Abs() <= 12*time.Hour {
			break
		}
	}
	return noon, hours
}

func hoursOf(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// course is the temperature at an instant between the sunrise of day leg and
// the next; missing where a value it rests on is missing.
func course(at time.Time, anchors []anchor, leg int) unit.Maybe[unit.Celsius] {
	a := anchors[leg]
	low, okLow := a.min.Get()
	if at.Equal(a.rise) {
		return a.min
	}
	high, okHigh := a.max.Get()
	if !at.After(a.peak) {
		if at.Equal(a.peak) {
			return a.max
		}
		return between(low, high, math.Sin(math.Pi/2*at.Sub(a.rise).Hours()/a.peak.Sub(a.rise).Hours()), okLow && okHigh)
	}
	if leg+1 == len(anchors) {
		return unit.None[unit.Celsius]()
	}
	next, okNext := anchors[leg+1].min.Get()
	if at.Before(a.night) {
		return between(next, high, math.Cos(math.Pi/2*at.Sub(a.peak).Hours()/a.quarter), okHigh && okNext)
	}
	t2 := next + (high-next)*unit.Celsius(a.nightCosine)
	i := at.Sub(a.night).Hours() + nightLagHours
	n := anchors[leg+1].rise.Sub(a.night).Hours() + nightLagHours
	return orMissing(microclimate.NightTrend(t2, next, i, n), okHigh && okNext)
}

func between(low, high unit.Celsius, share float64, known bool) unit.Maybe[unit.Celsius] {
	return orMissing(low+(high-low)*unit.Celsius(share), known)
}

func orMissing(c unit.Celsius, known bool) unit.Maybe[unit.Celsius] {
	if !known {
		return unit.None[unit.Celsius]()
	}
	return unit.Some(c)
}
