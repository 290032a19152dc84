package book

import (
	"context"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var farms = row.Of("farm", "name", func(f *farm.Farm) []row.Column {
	return []row.Column{
		row.Whole("id", &f.ID).Given(),
		row.Text("name", &f.Name),
		row.Text("units", &f.Units),
		row.Text("language", &f.Language),
		row.Text("time_zone", &f.TimeZone),
		row.Text("currency", &f.Currency),
		row.Seconds("notice_lead_s", &f.NoticeLead),
		row.Seconds("moved_step_s", &f.MovedStep),
		row.Seconds("blind_after_s", &f.BlindAfter),
		row.Number("wind_chill_limit_c", &f.WindChillLimit),
		row.Truth("still_watching", &f.StillWatching),
		row.Nested("crew", &f.Crew),
		row.Nested("wanted", &f.Wanted),
		row.TextOrNull("calendar_secret", &f.CalendarSecret),
		row.At("created_at", &f.CreatedAt).Fixed(),
		row.Whole("version", &f.Version).Given(),
	}
})

var tokens = row.Of("token", "hash", func(t *farm.Token) []row.Column {
	return []row.Column{
		row.Text("hash", &t.Hash),
		row.Whole("farm_id", &t.FarmID),
		row.Text("scope", &t.Scope),
		row.At("created_at", &t.CreatedAt),
		row.MaybeAt("revoked_at", &t.RevokedAt),
	}
})

func (r reader) Farm(ctx context.Context, id int64) (_ farm.Farm, err error) {
	defer row.Wrap(&err, "farm %d", id)
	return one(ctx, r.q, farms, `WHERE id = ?1`, id)
}

func (r reader) FarmByName(ctx context.Context, name string) (_ farm.Farm, err error) {
	defer row.Wrap(&err, "farm %q", name)
	return one(ctx, r.q, farms, `WHERE name = ?1`, name)
}

func (r reader) FarmByCalendar(ctx context.Context, secret string) (_ farm.Farm, err error) {
	defer row.Wrap(&err, "farm by calendar")
	return one(ctx, r.q, farms, `WHERE calendar_secret = ?1`, secret)
}

func (r reader) Farms(ctx context.Context, p store.Page) (_ []farm.Farm, err error) {
	defer row.Wrap(&err, "farms")
	return many(ctx, r.q, farms, `WHERE id > ?1 ORDER BY id LIMIT ?2`, p.After, limit(p.Limit))
}

func (w writer) AddFarm(ctx context.Context, f farm.Farm) (_ int64, err error) {
	defer row.Wrap(&err, "add farm %q", f.Name)
	return addNew(ctx, w, farms, f)
}

func (w writer) UpdateFarm(ctx context.Context, f farm.Farm) (err error) {
	defer row.Wrap(&err, "update farm %d", f.ID)
	return revise(ctx, w, farms, f, f.Version, `id = ?1`, f.ID)
}

func (r reader) Token(ctx context.Context, hash string) (_ farm.Token, err error) {
	defer row.Wrap(&err, "token")
	return one(ctx, r.q, tokens, `WHERE hash = ?1 AND revoked_at IS NULL`, hash)
}

func (w writer) AddToken(ctx context.Context, t farm.Token) (err error) {
	defer row.Wrap(&err, "add token of farm %d", t.FarmID)
	return addOnce(ctx, w, tokens, t)
}

func (w writer) RevokeToken(ctx context.Context, hash string, at time.Time) (err error) {
	defer row.Wrap(&err, "revoke token")
	return w.must(ctx, `UPDATE token SET revoked_at = ?2 WHERE hash = ?1 AND revoked_at IS NULL`, hash, row.Instant(at))
}
