package row

import (
	"winterstand/internal/farm"
	"winterstand/internal/store"
)

// NoticeValues are farm_id, subject, field_id, bed_id, kind, night, revision,
// issued_at, harvest_before, likelihood, forecast_id, facts.
func NoticeValues(n store.Notice) ([]any, error) {
	return values(n.FarmID, text("subject", n.Subject), Reference(n.FieldID), Reference(n.BedID),
		text("kind", n.Kind), text("night", n.Night), int64(n.Revision), Instant(n.IssuedAt),
		maybeInstant(n.HarvestBefore), maybeNumber("likelihood", n.Likelihood),
		Reference(n.ForecastID), document("facts", n.Facts))
}

// ScanNotice reads id, the columns of NoticeValues, answer, answered_at.
func ScanNotice(scan Scan) (n store.Notice, err error) {
	err = scan(&n.ID, &n.FarmID, &n.Subject, reference{&n.FieldID}, reference{&n.BedID}, &n.Kind,
		&n.Night, &n.Revision, instant{&n.IssuedAt}, maybeAt{&n.HarvestBefore},
		maybeOf(&n.Likelihood), reference{&n.ForecastID}, raw{&n.Facts}, &n.Answer, maybeAt{&n.AnsweredAt})
	return n, err
}

// AnswerValues are farm_id, notice_id, bed_id, recipient_id, answer, harvested_kg, at.
func AnswerValues(a farm.Answer) ([]any, error) {
	return values(a.FarmID, a.NoticeID, Reference(a.BedID), Reference(a.RecipientID),
		text("answer", a.Answer), maybeNumber("harvested_kg", a.HarvestedKg), Instant(a.At))
}

// ScanAnswer reads id and the columns of AnswerValues.
func ScanAnswer(scan Scan) (a farm.Answer, err error) {
	err = scan(&a.ID, &a.FarmID, &a.NoticeID, reference{&a.BedID}, reference{&a.RecipientID},
		&a.Answer, maybeOf(&a.HarvestedKg), instant{&a.At})
	return a, err
}

// MessageValues are farm_id, recipient_id, channel, key, test, state, attempts,
// last_error, created_at, not_before, sent_at.
func MessageValues(m store.Message) ([]any, error) {
	return values(m.FarmID, m.RecipientID, text("channel", m.Channel), text("key", m.Key), m.Test,
		text("state", m.State), int64(m.Attempts), cleaned(m.LastError),
		Instant(m.CreatedAt), Instant(m.NotBefore), maybeInstant(m.SentAt))
}

// MarkValues are state, attempts, last_error, not_before, sent_at.
func MarkValues(m store.Message) ([]any, error) {
	return values(text("state", m.State), int64(m.Attempts), cleaned(m.LastError),
		Instant(m.NotBefore), maybeInstant(m.SentAt))
}

// ScanMessage reads id, the columns of MessageValues, and the notice IDs as a JSON list.
func ScanMessage(scan Scan) (m store.Message, err error) {
	err = scan(&m.ID, &m.FarmID, &m.RecipientID, &m.Channel, &m.Key, &m.Test, &m.State, &m.Attempts,
		&m.LastError, instant{&m.CreatedAt}, instant{&m.NotBefore}, maybeAt{&m.SentAt}, nestedOf(&m.NoticeIDs))
	return m, err
}
