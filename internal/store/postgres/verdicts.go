package postgres

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	verdictColumns  = "bed_id, as_of, forecast_id, state, harvest_before, likelihood, night, body, watch"
	verdictRead     = "bed_id, body, watch"
	judgementValues = "farm_id, bed_id, crop, night, lead_days, issued_at, likelihood, cost_loss, acted, " +
		"air_min_c, lost_fraction, air_min_was_c"
)

func (r reader) Verdict(ctx context.Context, bedID int64) (_ store.Verdict, err error) {
	defer row.Wrap(&err, "verdict of bed %d", bedID)
	return one(ctx, r.q, row.ScanVerdict, `SELECT `+verdictRead+` FROM verdict WHERE bed_id = $1`, bedID)
}

func (r reader) Verdicts(ctx context.Context, farmID int64) (_ map[int64]store.Verdict, err error) {
	defer row.Wrap(&err, "verdicts of farm %d", farmID)
	return r.verdicts(ctx, `SELECT `+verdictRead+` FROM verdict WHERE bed_id IN (
		SELECT id FROM bed WHERE farm_id = $1 AND cleared_at IS NULL
		AND field_id IN (SELECT id FROM field WHERE removed_at IS NULL))`, farmID)
}

func (r reader) VerdictsOfCell(ctx context.Context, cellID int64) (_ map[int64]store.Verdict, err error) {
	defer row.Wrap(&err, "verdicts of cell %d", cellID)
	return r.verdicts(ctx, `SELECT `+verdictRead+` FROM verdict WHERE bed_id IN (
		SELECT id FROM bed WHERE cleared_at IS NULL
		AND field_id IN (SELECT id FROM field WHERE cell_id = $1 AND removed_at IS NULL))`, cellID)
}

func (r reader) verdicts(ctx context.Context, query string, id int64) (map[int64]store.Verdict, error) {
	list, err := many(ctx, r.q, row.ScanVerdict, query, id)
	byBed := make(map[int64]store.Verdict, len(list))
	for _, v := range list {
		byBed[v.BedID] = v
	}
	return byBed, err
}

func (w writer) SaveVerdicts(ctx context.Context, vs []store.Verdict) (err error) {
	defer row.Wrap(&err, "save %d verdicts", len(vs))
	rows, err := row.VerdictsValues(vs)
	if err != nil {
		return err
	}
	return w.bulk(ctx, `INSERT INTO verdict (`+verdictColumns+`) SELECT * FROM unnest($1::bigint[], $2::bigint[], $3::bigint[],
		$4::text[], $5::bigint[], $6::float8[], $7::text[], $8::text[], $9::text[]) ON CONFLICT (bed_id) DO UPDATE SET
		(as_of, forecast_id, state, harvest_before, likelihood, night, body, watch) = (excluded.as_of,
		excluded.forecast_id, excluded.state, excluded.harvest_before, excluded.likelihood, excluded.night,
		excluded.body, excluded.watch)`, rows)
}

func (r reader) Judgements(ctx context.Context, farmID int64, from, to farm.Day) (_ []store.Judgement, err error) {
	defer row.Wrap(&err, "judgements of nights %s to %s", from, to)
	var c conditions
	c.and("night >=", string(from))
	c.and("night <=", string(to))
	if farmID != 0 {
		c.and("farm_id =", farmID)
	}
	return many(ctx, r.q, row.ScanJudgement,
		`SELECT id, `+judgementValues+` FROM judgement WHERE `+c.text()+` ORDER BY id`, c.args...)
}

func (w writer) AddJudgements(ctx context.Context, js []store.Judgement) (err error) {
	defer row.Wrap(&err, "add %d judgements", len(js))
	rows, err := row.JudgementsValues(js)
	if err != nil {
		return err
	}
	return w.bulk(ctx, `INSERT INTO judgement (`+judgementValues+`) SELECT * FROM unnest($1::bigint[], $2::bigint[],
		$3::text[], $4::text[], $5::bigint[], $6::bigint[], $7::float8[], $8::float8[], $9::boolean[], $10::float8[],
		$11::float8[], $12::float8[]) ON CONFLICT (bed_id, night, lead_days) DO NOTHING`, rows)
}

func (w writer) ScoreJudgement(ctx context.Context, bedID int64, night farm.Day, lost, airMin float64) (err error) {
	defer row.Wrap(&err, "score judgements of bed %d, night %s", bedID, night)
	vs, err := row.ScoreValues(lost, airMin)
	if err != nil {
		return err
	}
	_, err = w.exec(ctx, `UPDATE judgement SET (lost_fraction, air_min_was_c) = ($1, $2)
		WHERE bed_id = $3 AND night = $4`, append(vs, bedID, string(night))...)
	return err
}
