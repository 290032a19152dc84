package sqlite

import (
	"context"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	farmValues = "name, units, language, time_zone, currency, notice_lead_s, moved_step_s, blind_after_s, " +
		"wind_chill_limit_c, still_watching, crew, wanted, calendar_secret"
	farmColumns  = "id, " + farmValues + ", created_at, version"
	tokenColumns = "hash, farm_id, scope, created_at, revoked_at"
)

func (r reader) Farm(ctx context.Context, id int64) (_ farm.Farm, err error) {
	defer row.Wrap(&err, "farm %d", id)
	return one(ctx, r.q, row.ScanFarm, `SELECT `+farmColumns+` FROM farm WHERE id = ?1`, id)
}

func (r reader) FarmByName(ctx context.Context, name string) (_ farm.Farm, err error) {
	defer row.Wrap(&err, "farm %q", name)
	return one(ctx, r.q, row.ScanFarm, `SELECT `+farmColumns+` FROM farm WHERE name = ?1`, name)
}

func (r reader) FarmByCalendar(ctx context.Context, secret string) (_ farm.Farm, err error) {
	defer row.Wrap(&err, "farm by calendar")
	return one(ctx, r.q, row.ScanFarm, `SELECT `+farmColumns+` FROM farm WHERE calendar_secret = ?1`, secret)
}

func (r reader) Farms(ctx context.Context, p store.Page) (_ []farm.Farm, err error) {
	defer row.Wrap(&err, "farms")
	return many(ctx, r.q, row.ScanFarm,
		`SELECT `+farmColumns+` FROM farm WHERE id > ?1 ORDER BY id LIMIT ?2`, p.After, limit(p.Limit))
}

func (r reader) Token(ctx context.Context, hash string) (_ farm.Token, err error) {
	defer row.Wrap(&err, "token")
	return one(ctx, r.q, row.ScanToken,
		`SELECT `+tokenColumns+` FROM token WHERE hash = ?1 AND revoked_at IS NULL`, hash)
}

func (w writer) AddFarm(ctx context.Context, f farm.Farm) (_ int64, err error) {
	defer row.Wrap(&err, "add farm %q", f.Name)
	vs, err := row.FarmValues(f)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "farm", farmValues+", created_at", "ON CONFLICT (name) DO NOTHING",
		append(vs, row.Instant(f.CreatedAt)))
}

func (w writer) UpdateFarm(ctx context.Context, f farm.Farm) (err error) {
	defer row.Wrap(&err, "update farm %d", f.ID)
	vs, err := row.FarmValues(f)
	if err != nil {
		return err
	}
	changed, err := w.exec(ctx, `UPDATE farm SET (`+farmValues+`, version) = (`+marks(len(vs))+`, version + 1)
		WHERE id = ?14 AND version = ?15`, append(vs, f.ID, f.Version)...)
	if err != nil || changed == 1 {
		return err
	}
	if _, err := one(ctx, w.tx, scanID, `SELECT id FROM farm WHERE id = ?1`, f.ID); err != nil {
		return err
	}
	return store.ErrChanged
}

func (w writer) AddToken(ctx context.Context, t farm.Token) (err error) {
	defer row.Wrap(&err, "add token of farm %d", t.FarmID)
	vs, err := row.TokenValues(t)
	if err != nil {
		return err
	}
	return w.addOnce(ctx, `INSERT INTO token (`+tokenColumns+`) VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT DO NOTHING`, vs...)
}

func (w writer) RevokeToken(ctx context.Context, hash string, at time.Time) (err error) {
	defer row.Wrap(&err, "revoke token")
	return w.must(ctx, `UPDATE token SET revoked_at = ?2 WHERE hash = ?1 AND revoked_at IS NULL`, hash, row.Instant(at))
}
