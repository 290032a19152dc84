package commands

import (
	"math"
	"slices"
	"strconv"

	"winterstand/internal/message/phrase"
)

// Range is what a number may be. Open ends are left out themselves.
type Range struct {
	Min, Max         float64
	OpenMin, OpenMax bool
	Unit             string // a phrase of [amount]
}

// Limits are the ranges of every number that is taken in, by noun and member.
// They keep slips of the pen out (a longitude in the latitude, °F for °C, per
// cent for a fraction) and stay wide of anything real. Own defaults, except
// where the unit itself sets the bound.
var Limits = map[string]Range{
	"farm.notice_lead_h":      {Min: 6, Max: 240, Unit: "hours"},
	"farm.moved_step_h":       {Min: 1, Max: 72, Unit: "hours"},
	"farm.blind_after_h":      {Min: 3, Max: 168, Unit: "hours"},
	"farm.wind_chill_limit_c": {Min: -60, Max: 5, Unit: "celsius"},
	"shift.people":            {Min: 0, Max: 500, OpenMin: true, Unit: "people"},
	"want.kg_per_week":        {Min: 0, Max: 1e6, Unit: "kg_a_week"},

	"field.latitude":    {Min: -90, Max: 90, Unit: "degrees_north"},
	"field.longitude":   {Min: -180, Max: 180, Unit: "degrees_east"},
	"field.elevation_m": {Min: -430, Max: 9000, Unit: "metres_above_sea"},
	"field.low_spot_k":  {Min: 0, Max: 15, Unit: "kelvins_colder"},

	"bed.standing_kg":       {Min: 0, Max: 1e6, Unit: "kg"},
	"bed.price_per_kg":      {Min: 0, Max: 1e6, Unit: "price_per_kg"},
	"bed.lift_kg_per_hour":  {Min: 0, Max: 1e5, OpenMin: true, Unit: "kg_an_hour"},
	"bed.cost_loss":         {Min: 0, Max: 1, OpenMin: true, OpenMax: true, Unit: "share"},
	"bed.mulch_cm":          {Min: 0, Max: 60, Unit: "cm"},
	"bed.tolerance_shift_k": {Min: -8, Max: 8, Unit: "kelvins_shift"},

	"room.temperature_c": {Min: -40, Max: 40, Unit: "celsius"},
	"room.humidity":      {Min: 0, Max: 1, Unit: "humidity"},
	"room.capacity_kg":   {Min: 0, Max: 1e7, OpenMin: true, Unit: "kg"},
	"lot.kg":             {Min: 0, Max: 1e6, Unit: "kg"},

	"reading.air_min_c":     {Min: -70, Max: 60, Unit: "celsius"},
	"reading.air_c":         {Min: -70, Max: 60, Unit: "celsius"},
	"reading.snow_depth_cm": {Min: 0, Max: 1000, Unit: "cm"},
	"reading.soil_c":        {Min: -50, Max: 60, Unit: "celsius"},
	"reading.depth_cm":      {Min: 0, Max: 300, Unit: "cm_below_ground"},

	"finding.lost_fraction": {Min: 0, Max: 1, Unit: "fraction"},
	"answer.harvested_kg":   {Min: 0, Max: 1e6, Unit: "kg"},
	"whatif.mulch_cm":       {Min: 0, Max: 60, Unit: "cm"},
	"whatif.harvest_fraction": {Min: 0, Max: 1,
		Unit: "fraction"},
}

// Refusal says what is wrong with v, or nothing. A value that is no number is
// never inside a range.
func (r Range) Refusal(v float64) phrase.Line {
	low := v < r.Min || r.OpenMin && v == r.Min
	high := v > r.Max || r.OpenMax && v == r.Max
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return reason("no_number", "range", r.line())
	}
	if low || high {
		return r.line()
	}
	return fine
}

// line is the range as people say it. No range is open at its upper end alone.
func (r Range) line() phrase.Line {
	key := "range"
	if r.OpenMin {
		key = "range_above"
	}
	if r.OpenMax {
		key = "range_between"
	}
	return reason(key, "from", plain(r.Min), "to", plain(r.Max), "unit", phrase.Of("amount."+r.Unit))
}

// OutOfRange tells whether a reason is that a number lies outside of its range.
func OutOfRange(why phrase.Line) bool {
	return slices.Contains([]string{"wrong.range", "wrong.range_above", "wrong.range_between", "wrong.some_kg"}, why.Key)
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// within is the range of a member as a test of a value.
func within(key string) func(float64) phrase.Line {
	r, ok := Limits[key]
	if !ok {
		panic("commands: no limits for " + key)
	}
	return r.Refusal
}
