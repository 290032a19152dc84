package sqlite

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	recipientValues  = "name, email, phone, language, units, quiet_from, quiet_to, kinds, muted_sms, muted_mail, removed_at"
	recipientColumns = "id, farm_id, " + recipientValues + ", created_at, version"
)

func (r reader) Recipient(ctx context.Context, farmID, id int64) (_ farm.Recipient, err error) {
	defer row.Wrap(&err, "recipient %d", id)
	return one(ctx, r.q, row.ScanRecipient,
		`SELECT `+recipientColumns+` FROM recipient WHERE farm_id = ?1 AND id = ?2`, farmID, id)
}

func (r reader) Recipients(ctx context.Context, farmID int64, p store.Page) (_ []farm.Recipient, err error) {
	defer row.Wrap(&err, "recipients of farm %d", farmID)
	return many(ctx, r.q, row.ScanRecipient, `SELECT `+recipientColumns+` FROM recipient
		WHERE farm_id = ?1 AND id > ?2 AND removed_at IS NULL ORDER BY id LIMIT ?3`, farmID, p.After, limit(p.Limit))
}

func (r reader) RecipientsByPhone(ctx context.Context, phone string) (_ []farm.Recipient, err error) {
	defer row.Wrap(&err, "recipients by phone")
	return many(ctx, r.q, row.ScanRecipient, `SELECT `+recipientColumns+` FROM recipient
		WHERE phone = ?1 AND phone <> '' AND removed_at IS NULL ORDER BY id`, phone)
}

// RecipientsByEmail does not tell upper from lower case: people type their address as they like.
func (r reader) RecipientsByEmail(ctx context.Context, email string) (_ []farm.Recipient, err error) {
	defer row.Wrap(&err, "recipients by e-mail")
	return many(ctx, r.q, row.ScanRecipient, `SELECT `+recipientColumns+` FROM recipient
		WHERE lower(email) = lower(?1) AND email <> '' AND removed_at IS NULL ORDER BY id`, email)
}

func (w writer) AddRecipient(ctx context.Context, r farm.Recipient) (_ int64, err error) {
	defer row.Wrap(&err, "add recipient %q", r.Name)
	vs, err := row.RecipientValues(r)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "recipient", recipientValues+", farm_id, created_at", "",
		append(vs, r.FarmID, row.Instant(r.CreatedAt)))
}

func (w writer) UpdateRecipient(ctx context.Context, r farm.Recipient) (err error) {
	defer row.Wrap(&err, "update recipient %d", r.ID)
	vs, err := row.RecipientValues(r)
	if err != nil {
		return err
	}
	return w.update(ctx, "recipient", recipientValues, r.FarmID, r.ID, r.Version, vs)
}
