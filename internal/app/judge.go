package app

import (
	"context"
	"errors"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/scene"
	"winterstand/internal/unit"
	"winterstand/internal/web/api"
)

// judge answers the API's questions about one bed.
type judge struct{ scenes *scene.Reader }

func (j judge) Outlook(ctx context.Context, farmID, bedID int64) (api.Outlook, error) {
	o, err := j.scenes.Outlook(ctx, farmID, bedID)
	if err != nil {
		return api.Outlook{}, notYet(err)
	}
	out := api.Outlook{Verdict: o.Verdict}
	for _, h := range o.Hours {
		out.Hours = append(out.Hours, api.OutlookHour{
			At: h.At, AirP10: unit.Some(h.AirP10), AirP50: unit.Some(h.AirP50), AirP90: unit.Some(h.AirP90),
			TissueP10: unit.Some(h.TissueP10), TissueP50: unit.Some(h.TissueP50), TissueP90: unit.Some(h.TissueP90),
			Tolerance: unit.Some(h.Tolerance), Soil5: unit.Some(h.Soil5), Snow: unit.Some(h.SnowCm), Workable: unit.Some(h.Workable),
		})
	}
	return out, nil
}

func (j judge) WhatIf(ctx context.Context, farmID, bedID int64, q api.WhatIf) (farm.Verdict, error) {
	v, err := j.scenes.WhatIf(ctx, farmID, bedID, q.Cover.Else(""), q.MulchCm)
	return v, notYet(err)
}

// notYet says a blind answer in the API's terms.
func notYet(err error) error {
	var blind *scene.Blind
	if errors.As(err, &blind) {
		return &api.NotYet{Reason: notice.Unseen(phrase.English(), blind.Verdict)}
	}
	return err
}
