package commands

import (
	"context"
	"fmt"
	"strings"

	"golang.org/x/text/currency"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// FarmInput changes a farm.
type FarmInput struct {
	Name           Optional[string]       `json:"name,omitzero" doc:"What people call the farm" example:"Hill Farm"`
	Units          Optional[string]       `json:"units,omitzero" doc:"Units that people of the farm see; JSON and CSV stay SI"`
	Language       Optional[string]       `json:"language,omitzero" doc:"Language of messages and pages"`
	TimeZone       Optional[string]       `json:"time_zone,omitzero" doc:"IANA time zone of lists and letters; null: that of the first field" example:"America/New_York"`
	Currency       Optional[string]       `json:"currency,omitzero" doc:"ISO 4217 code" example:"USD"`
	NoticeLeadH    Optional[float64]      `json:"notice_lead_h,omitzero" doc:"A harvest-before notice leaves at most this many hours before its deadline, unless the danger is nearly certain earlier" example:"72"`
	MovedStepH     Optional[float64]      `json:"moved_step_h,omitzero" doc:"A deadline that moves by at least this many hours is told again" example:"6"`
	BlindAfterH    Optional[float64]      `json:"blind_after_h,omitzero" doc:"Without a usable forecast for this many hours people are told that we cannot see" example:"24"`
	WindChillLimit Optional[float64]      `json:"wind_chill_limit_c,omitzero" doc:"No crew works outside below this wind chill, °C" example:"-20"`
	StillWatching  Optional[bool]         `json:"still_watching,omitzero" doc:"Send a weekly sign of life"`
	Crew           Optional[[]farm.Shift] `json:"crew,omitzero" doc:"Who is there when: weekday, from, to (local clock), people"`
	Wanted         Optional[[]farm.Want]  `json:"wanted,omitzero" doc:"What is wanted of each crop, kg a week between two days"`
}

// ChangeFarm changes the members that were given. Errors: *Invalid,
// store.ErrChanged, store.ErrExists (the name is another farm's).
func (d Service) ChangeFarm(ctx context.Context, farmID int64, seen Seen, in FarmInput) (f farm.Farm, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		if f, err = w.Farm(ctx, farmID); err != nil {
			return err
		}
		if err = unchanged(seen, f.Version); err != nil {
			return err
		}
		var c check
		d.applyFarm(&c, in, &f)
		if err = c.err(); err != nil {
			return err
		}
		if err = w.UpdateFarm(ctx, f); err != nil {
			return err
		}
		f.Version++
		return d.judgeFarm(ctx, w, farmID, in)
	})
	return f, err
}

// judgeFarm has every bed judged again when the change bears on the hours in
// which people can work.
func (d Service) judgeFarm(ctx context.Context, w store.Writer, farmID int64, in FarmInput) error {
	if !in.WindChillLimit.Touched() {
		return nil
	}
	return judgeAll(ctx, w, farmID)
}

// judgeAll has every field of a farm judged again.
func judgeAll(ctx context.Context, w store.Writer, farmID int64) error {
	fields, err := w.Fields(ctx, farmID, store.Page{})
	if err != nil {
		return err
	}
	for _, f := range fields {
		if err := judgeField(ctx, w, f); err != nil {
			return err
		}
	}
	return nil
}

func (d Service) applyFarm(c *check, in FarmInput, f *farm.Farm) {
	accept(c, "name", in.Name, aName, &f.Name, strings.TrimSpace)
	accept(c, "units", in.Units, oneOf("farm.units"), &f.Units, func(s string) unit.System { return unit.System(s) })
	accept(c, "language", in.Language, oneOf("farm.language"), &f.Language, same[string])
	acceptOr(c, "time_zone", in.TimeZone, aZone, &f.TimeZone, same[string], "")
	accept(c, "currency", in.Currency, aCurrency, &f.Currency, strings.ToUpper)
	accept(c, "notice_lead_h", in.NoticeLeadH, within("farm.notice_lead_h"), &f.NoticeLead, hours)
	accept(c, "moved_step_h", in.MovedStepH, within("farm.moved_step_h"), &f.MovedStep, hours)
	accept(c, "blind_after_h", in.BlindAfterH, within("farm.blind_after_h"), &f.BlindAfter, hours)
	accept(c, "wind_chill_limit_c", in.WindChillLimit, within("farm.wind_chill_limit_c"), &f.WindChillLimit, celsius)
	accept(c, "still_watching", in.StillWatching, func(bool) phrase.Line { return fine }, &f.StillWatching, same[bool])
	if in.Crew.Touched() {
		f.Crew, _ = in.Crew.Get()
		c.crew(f.Crew)
	}
	if in.Wanted.Touched() {
		f.Wanted, _ = in.Wanted.Get()
		c.wanted(d, f.Wanted)
	}
}

func aCurrency(s string) phrase.Line {
	if _, err := currency.ParseISO(s); err != nil {
		return reason("currency")
	}
	return fine
}

// maxRows bounds the lists within one entry. Own default.
const maxRows = 200

func (c *check) crew(shifts []farm.Shift) {
	if len(shifts) > maxRows {
		c.bad("crew", "too_many", "n", len(shifts), "most", maxRows)
	}
	for i, s := range shifts {
		at := func(member string) string { return fmt.Sprintf("crew[%d].%s", i, member) }
		c.test(at("day"), oneOf("shift.day")(s.Day))
		c.test(at("from"), aClock(s.From))
		c.test(at("to"), aClock(s.To))
		c.test(at("people"), within("shift.people")(s.People))
		if aClock(s.From).None() && aClock(s.To).None() && s.From >= s.To {
			c.bad(at("to"), "shift_order")
		}
	}
}

func (c *check) wanted(d Service, wants []farm.Want) {
	if len(wants) > maxRows {
		c.bad("wanted", "too_many", "n", len(wants), "most", maxRows)
	}
	for i, want := range wants {
		at := func(member string) string { return fmt.Sprintf("wanted[%d].%s", i, member) }
		c.test(at("crop"), d.aCrop(want.Crop))
		wants[i].Crop = d.cropKey(want.Crop)
		c.test(at("kg_per_week"), within("want.kg_per_week")(want.KgPerWeek))
		c.test(at("from"), aDay(string(want.From)))
		c.test(at("to"), aDay(string(want.To)))
		if aDay(string(want.From)).None() && aDay(string(want.To)).None() && want.To < want.From {
			c.bad(at("to"), "days_order")
		}
	}
}
