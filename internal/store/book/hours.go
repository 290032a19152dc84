package book

import (
	"context"
	"fmt"
	"strings"
	"time"

	"winterstand/internal/store/row"
	"winterstand/internal/weather"
)

var hours = row.Of("hour", "", hourColumns)

func hourColumns(h *weather.Hour) []row.Column {
	return []row.Column{
		row.At("at", &h.At).Fixed(),
		row.MaybeNumber("air_c", &h.Air),
		row.MaybeNumber("dew_point_c", &h.DewPoint),
		row.MaybeNumber("wind_ms", &h.Wind),
		row.MaybeNumber("cloud_fraction", &h.Cloud),
		row.MaybeNumber("precip_mm", &h.Precip),
		row.MaybeNumber("snow_depth_cm", &h.SnowDepth),
		row.MaybeNumber("shortwave_wm2", &h.Shortwave),
	}
}

// placedHour is an hour as it is written.
type placedHour struct {
	cell, rank int64
	weather.Hour
}

var placedHours = row.Of("hour", "cell_id, at", func(h *placedHour) []row.Column {
	return append([]row.Column{
		row.Whole("cell_id", &h.cell).Fixed(),
		row.Whole("origin_rank", &h.rank).Fixed(), // strongest
	}, hourColumns(&h.Hour)...)
})

func (r reader) Hours(ctx context.Context, cellID int64, from, to time.Time) (_ []weather.Hour, err error) {
	defer row.Wrap(&err, "hours of cell %d", cellID)
	return many(ctx, r.q, hours, `WHERE cell_id = ?1 AND at >= ?2 AND at < ?3 ORDER BY at`,
		cellID, row.Instant(from), row.Instant(to))
}

func (w writer) PutHours(ctx context.Context, cellID int64, origin weather.Origin, list []weather.Hour) (err error) {
	defer row.Wrap(&err, "put hours of cell %d", cellID)
	placed, err := placeHours(cellID, origin, list)
	if err != nil {
		return err
	}
	return bulk(ctx, w, placedHours, strongest, placed, placedHour.name)
}

// placeHours are the hours of a cell by ascending time; where an hour is given
// twice the last counts.
func placeHours(cellID int64, origin weather.Origin, list []weather.Hour) ([]placedHour, error) {
	rank, err := row.Rank(origin)
	if err != nil {
		return nil, err
	}
	placed := make([]placedHour, len(list))
	for i, h := range list {
		placed[i] = placedHour{cellID, rank, h}
		if !h.At.Equal(h.At.Truncate(time.Hour)) {
			return nil, fmt.Errorf("%s: must begin on a full UTC hour", placed[i].name())
		}
	}
	return lasts(placed, func(a, b placedHour) int { return a.At.Compare(b.At) }), nil
}

func (h placedHour) name() string { return "hour " + h.At.UTC().Format(time.RFC3339) }

// strongest keeps for every quantity what the strongest origin knows of it: a
// station without a rain gauge does not wipe out the analysis of the rain.
var strongest = func() string {
	const stronger = "CASE WHEN excluded.origin_rank >= hour.origin_rank THEN "
	set := "origin_rank = " + stronger + "excluded.origin_rank ELSE hour.origin_rank END"
	for _, q := range placedHours.Changes() {
		set += strings.ReplaceAll(", Q = "+stronger+"coalesce(excluded.Q, hour.Q) ELSE coalesce(hour.Q, excluded.Q) END", "Q", q)
	}
	return "ON CONFLICT (cell_id, at) DO UPDATE SET " + set
}()

func (w writer) CopyHours(ctx context.Context, from, to int64) (err error) {
	defer row.Wrap(&err, "copy hours of cell %d to cell %d", from, to)
	columns := strings.Join(row.Names(placedHours.Adds()[1:]), ", ") // all but the cell
	_, err = w.tx.Exec(ctx, `INSERT INTO hour (cell_id, `+columns+`) SELECT CAST(?2 AS bigint), `+columns+`
		FROM hour WHERE cell_id = ?1 `+placedHours.Keep(), from, to)
	return err
}
