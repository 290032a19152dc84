package book

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var recipients = row.Of("recipient", "id", func(r *farm.Recipient) []row.Column {
	return []row.Column{
		row.Whole("id", &r.ID).Given(),
		row.Whole("farm_id", &r.FarmID).Fixed(),
		row.Text("name", &r.Name),
		row.Text("email", &r.Email),
		row.Text("phone", &r.Phone),
		row.Text("language", &r.Language),
		row.Text("units", &r.Units),
		row.Text("quiet_from", &r.QuietFrom),
		row.Text("quiet_to", &r.QuietTo),
		row.Nested("kinds", &r.Kinds),
		row.Truth("muted_sms", &r.MutedSMS),
		row.Nested("muted_mail", &r.MutedMail),
		row.MaybeAt("removed_at", &r.RemovedAt),
		row.At("created_at", &r.CreatedAt).Fixed(),
		row.Whole("version", &r.Version).Given(),
	}
})

func (r reader) Recipient(ctx context.Context, farmID, id int64) (_ farm.Recipient, err error) {
	defer row.Wrap(&err, "recipient %d", id)
	return one(ctx, r.q, recipients, ofFarm, farmID, id)
}

func (r reader) Recipients(ctx context.Context, farmID int64, p store.Page) (_ []farm.Recipient, err error) {
	defer row.Wrap(&err, "recipients of farm %d", farmID)
	return many(ctx, r.q, recipients, `WHERE farm_id = ?1 AND id > ?2 AND removed_at IS NULL ORDER BY id LIMIT ?3`,
		farmID, p.After, limit(p.Limit))
}

func (r reader) RecipientsByPhone(ctx context.Context, phone string) (_ []farm.Recipient, err error) {
	defer row.Wrap(&err, "recipients by phone")
	return many(ctx, r.q, recipients, `WHERE phone = ?1 AND phone <> '' AND removed_at IS NULL ORDER BY id`, phone)
}

// RecipientsByEmail does not tell upper from lower case: people type their address as they like.
func (r reader) RecipientsByEmail(ctx context.Context, email string) (_ []farm.Recipient, err error) {
	defer row.Wrap(&err, "recipients by e-mail")
	return many(ctx, r.q, recipients, `WHERE lower(email) = lower(?1) AND email <> '' AND removed_at IS NULL ORDER BY id`, email)
}

func (w writer) AddRecipient(ctx context.Context, r farm.Recipient) (_ int64, err error) {
	defer row.Wrap(&err, "add recipient %q", r.Name)
	return add(ctx, w, recipients, r)
}

func (w writer) UpdateRecipient(ctx context.Context, r farm.Recipient) (err error) {
	defer row.Wrap(&err, "update recipient %d", r.ID)
	return reviseOfFarm(ctx, w, recipients, r, r.FarmID, r.ID, r.Version)
}
