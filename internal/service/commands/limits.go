package commands

import (
	"fmt"
	"math"
	"strconv"
)

// Range is what a number may be. Open ends are left out themselves.
type Range struct {
	Min, Max         float64
	OpenMin, OpenMax bool
	Unit             string // as people say it
}

// Limits are the ranges of every number that is taken in, by noun and member.
// They keep slips of the pen out (a longitude in the latitude, °F for °C, per
// cent for a fraction) and stay wide of anything real. Own defaults, except
// where the unit itself sets the bound.
var Limits = map[string]Range{
	"farm.notice_lead_h":      {Min: 6, Max: 240, Unit: "hours"},
	"farm.moved_step_h":       {Min: 1, Max: 72, Unit: "hours"},
	"farm.blind_after_h":      {Min: 3, Max: 168, Unit: "hours"},
	"farm.wind_chill_limit_c": {Min: -60, Max: 5, Unit: "°C"},
	"shift.people":            {Min: 0, Max: 500, OpenMin: true, Unit: "people"},
	"want.kg_per_week":        {Min: 0, Max: 1e6, Unit: "kg a week"},

	"field.latitude":    {Min: -90, Max: 90, Unit: "degrees north"},
	"field.longitude":   {Min: -180, Max: 180, Unit: "degrees east (west is negative)"},
	"field.elevation_m": {Min: -430, Max: 9000, Unit: "m above the sea"},
	"field.low_spot_k":  {Min: 0, Max: 15, Unit: "kelvins colder than the forecast"},

	"bed.standing_kg":       {Min: 0, Max: 1e6, Unit: "kg"},
	"bed.price_per_kg":      {Min: 0, Max: 1e6, Unit: "of the farm's currency per kg"},
	"bed.lift_kg_per_hour":  {Min: 0, Max: 1e5, OpenMin: true, Unit: "kg an hour for one person"},
	"bed.cost_loss":         {Min: 0, Max: 1, OpenMin: true, OpenMax: true, Unit: "(a share, not per cent)"},
	"bed.mulch_cm":          {Min: 0, Max: 60, Unit: "cm"},
	"bed.tolerance_shift_k": {Min: -8, Max: 8, Unit: "kelvins (negative is hardier)"},

	"room.temperature_c": {Min: -40, Max: 40, Unit: "°C"},
	"room.humidity":      {Min: 0, Max: 1, Unit: "(a fraction: 95 % is 0.95)"},
	"room.capacity_kg":   {Min: 0, Max: 1e7, OpenMin: true, Unit: "kg"},
	"lot.kg":             {Min: 0, Max: 1e6, Unit: "kg"},

	"reading.air_min_c":     {Min: -70, Max: 60, Unit: "°C"},
	"reading.air_c":         {Min: -70, Max: 60, Unit: "°C"},
	"reading.snow_depth_cm": {Min: 0, Max: 1000, Unit: "cm"},
	"reading.soil_c":        {Min: -50, Max: 60, Unit: "°C"},
	"reading.depth_cm":      {Min: 0, Max: 300, Unit: "cm below the ground"},

	"finding.lost_fraction": {Min: 0, Max: 1, Unit: "(a fraction: half is 0.5)"},
	"answer.harvested_kg":   {Min: 0, Max: 1e6, Unit: "kg"},
	"whatif.mulch_cm":       {Min: 0, Max: 60, Unit: "cm"},
	"whatif.harvest_fraction": {Min: 0, Max: 1,
		Unit: "(a fraction: half is 0.5)"},
}

// Refusal says what is wrong with v, or nothing. A value that is no number is
// never inside a range.
func (r Range) Refusal(v float64) string {
	low := v < r.Min || r.OpenMin && v == r.Min
	high := v > r.Max || r.OpenMax && v == r.Max
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "is not a number; " + r.words()
	}
	if low || high {
		return r.words()
	}
	return ""
}

func (r Range) words() string {
	low, high := "from "+plain(r.Min), " to "+plain(r.Max)
	if r.OpenMin {
		low = "more than " + plain(r.Min)
	}
	if r.OpenMin && !r.OpenMax {
		high = " and at most " + plain(r.Max)
	}
	if r.OpenMax {
		high = " and less than " + plain(r.Max)
	}
	return fmt.Sprintf("must be %s%s %s", low, high, r.Unit)
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// within is the range of a member as a test of a value.
func within(key string) func(float64) string {
	r, ok := Limits[key]
	if !ok {
		panic("desk: no limits for " + key)
	}
	return r.Refusal
}
