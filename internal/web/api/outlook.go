package api

import (
	"context"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Outlook is what a Judge computes of a bed's coming hours.
type Outlook struct {
	Verdict farm.Verdict
	Hours   []OutlookHour
}

// OutlookHour is one hour of it. Percentiles are over the members; what is
// missing is left out, never zero.
type OutlookHour struct {
	At        time.Time                `json:"at"`
	AirP10    unit.Maybe[unit.Celsius] `json:"air_p10_c,omitzero"`
	AirP50    unit.Maybe[unit.Celsius] `json:"air_p50_c,omitzero"`
	AirP90    unit.Maybe[unit.Celsius] `json:"air_p90_c,omitzero"`
	TissueP10 unit.Maybe[unit.Celsius] `json:"tissue_p10_c,omitzero" doc:"Of the part judged"`
	TissueP50 unit.Maybe[unit.Celsius] `json:"tissue_p50_c,omitzero"`
	TissueP90 unit.Maybe[unit.Celsius] `json:"tissue_p90_c,omitzero"`
	Tolerance unit.Maybe[unit.Celsius] `json:"tolerance_c,omitzero" doc:"Tissue temperature at which loss begins to matter, median"`
	Soil5     unit.Maybe[unit.Celsius] `json:"soil_5cm_c,omitzero" doc:"5 cm below the ground, median"`
	Snow      unit.Maybe[float64]      `json:"snow_cm,omitzero"`
	Workable  unit.Maybe[bool]         `json:"workable,omitzero" doc:"It can be harvested in this hour"`
}

// BedOutlook is the series for a chart with the verdict that it led to.
type BedOutlook struct {
	BedID    int64         `json:"bed_id"`
	TimeZone string        `json:"time_zone" doc:"Of the field; the hours themselves are UTC"`
	Verdict  Verdict       `json:"verdict"`
	Series   []OutlookHour `json:"series"`
}

func (s *service) outlook(ctx context.Context, farmID int64, in *ByID) (*plain[BedOutlook], error) {
	n, b, err := s.standingBed(ctx, farmID, in.ID)
	if err != nil {
		return nil, err
	}
	o, err := s.Judge.Outlook(ctx, farmID, b.ID)
	if err != nil {
		return nil, err
	}
	verdict := s.verdictView(o.Verdict, n.farm, n.zones[b.FieldID])
	return &plain[BedOutlook]{BedOutlook{BedID: b.ID, TimeZone: n.zones[b.FieldID].String(), Verdict: verdict, Series: full(o.Hours)}}, nil
}

// standingBed is a bed that can be judged, with what its view needs.
func (s *service) standingBed(ctx context.Context, farmID, bedID int64) (n bench, b farm.Bed, err error) {
	if b, err = s.Commands.Store.Bed(ctx, farmID, bedID); err != nil {
		return n, b, err
	}
	if b.ClearedAt.Known() {
		return n, b, &NotYet{because("cleared").String()}
	}
	n, err = s.benchOf(ctx, s.Commands.Store.Reader, b)
	return n, b, err
}

// WhatIf is the question as a Judge gets it.
type WhatIf = commands.WhatIf

// WhatIfAnswer compares the bed as it would be with the bed as it stands.
type WhatIfAnswer struct {
	Verdict     Verdict             `json:"verdict" doc:"As it would be"`
	AsItStands  Verdict             `json:"as_it_stands" doc:"The latest verdict of the bed as it is"`
	StandingKg  unit.Maybe[float64] `json:"standing_kg,omitzero" doc:"What would be left in the ground, kg"`
	HarvestedKg unit.Maybe[float64] `json:"harvested_kg,omitzero" doc:"What would be out, kg"`
}

type askWhatIf struct {
	ByID
	Body commands.WhatIfInput
}

func (s *service) whatIf(ctx context.Context, farmID int64, in *askWhatIf) (*plain[WhatIfAnswer], error) {
	q, err := in.Body.Ask()
	if err != nil {
		return nil, err
	}
	n, b, err := s.standingBed(ctx, farmID, in.ID)
	if err != nil {
		return nil, err
	}
	v, err := s.Judge.WhatIf(ctx, farmID, b.ID, q)
	if err != nil {
		return nil, err
	}
	answer := WhatIfAnswer{Verdict: s.verdictView(v, n.farm, n.zones[b.FieldID]), AsItStands: n.verdict(b).brief()}
	if kg, ok := b.StandingKg.Get(); ok {
		share := q.HarvestFraction.Else(0)
		answer.StandingKg, answer.HarvestedKg = unit.Some(kg*(1-share)), unit.Some(kg*share)
	}
	return &plain[WhatIfAnswer]{answer}, nil
}
