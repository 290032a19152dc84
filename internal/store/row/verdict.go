package row

import (
	"fmt"

	"winterstand/internal/store"
)

// VerdictValues are bed_id, as_of, forecast_id, state, harvest_before,
// likelihood, night, body, watch: the verdict whole, and beside it what people
// may look for in the table. A verdict that was never made is not kept.
func VerdictValues(v store.Verdict) ([]any, error) {
	judged, known := v.Kept.AsJudged()
	if !known {
		return nil, fmt.Errorf("bed %d: no verdict to keep", v.BedID)
	}
	vs, err := values(v.BedID, Instant(judged.AsOf), Reference(judged.Forecast.ID), text("state", judged.State),
		maybeInstant(judged.HarvestBefore), maybeNumber("likelihood", judged.Likelihood),
		text("night", judged.Night), encoded("body", v.Kept), encoded("watch", v.Event))
	Wrap(&err, "bed %d", v.BedID)
	return vs, err
}

// VerdictsValues are the rows of several verdicts by bed; the last of a bed counts.
func VerdictsValues(verdicts []store.Verdict) ([][]any, error) {
	rows := make(map[int64][]any, len(verdicts))
	for _, v := range verdicts {
		vs, err := VerdictValues(v)
		if err != nil {
			return nil, err
		}
		rows[v.BedID] = vs
	}
	return sorted(rows), nil
}

// ScanVerdict reads bed_id, body and watch: the other columns repeat the body.
func ScanVerdict(scan Scan) (v store.Verdict, err error) {
	err = scan(&v.BedID, decoded{&v.Kept}, decoded{&v.Event})
	return v, err
}

// JudgementValues are farm_id, bed_id, crop, night, lead_days, issued_at,
// likelihood, cost_loss, acted, air_min_c, lost_fraction, air_min_was_c.
func JudgementValues(j store.Judgement) ([]any, error) {
	vs, err := values(j.FarmID, j.BedID, text("crop", j.Crop), text("night", j.Night),
		int64(j.LeadDays), Instant(j.IssuedAt), number("likelihood", j.Likelihood),
		number("cost_loss", j.CostLoss), j.Acted, number("air_min_c", j.AirMinC),
		maybeNumber("lost_fraction", j.Lost), maybeNumber("air_min_was_c", j.AirMinWas))
	Wrap(&err, "bed %d, night %s", j.BedID, j.Night)
	return vs, err
}

// JudgementsValues are the rows of several judgements by bed, night and lead;
// the first of each counts.
func JudgementsValues(js []store.Judgement) ([][]any, error) {
	rows := make(map[string][]any, len(js))
	for _, j := range js {
		key := fmt.Sprintf("%020d %s %06d", j.BedID, j.Night, j.LeadDays)
		if _, dup := rows[key]; dup {
			continue
		}
		vs, err := JudgementValues(j)
		if err != nil {
			return nil, err
		}
		rows[key] = vs
	}
	return sorted(rows), nil
}

// ScanJudgement reads id and the columns of JudgementValues.
func ScanJudgement(scan Scan) (j store.Judgement, err error) {
	err = scan(&j.ID, &j.FarmID, &j.BedID, &j.Crop, &j.Night, &j.LeadDays, instant{&j.IssuedAt},
		&j.Likelihood, &j.CostLoss, &j.Acted, &j.AirMinC, maybeOf(&j.Lost), maybeOf(&j.AirMinWas))
	return j, err
}

// ScoreValues are lost_fraction, air_min_was_c.
func ScoreValues(lost, airMin float64) ([]any, error) {
	return values(number("lost_fraction", lost), number("air_min_was_c", airMin))
}
