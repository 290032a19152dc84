package row

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/store"
)

// MemoValues are kind, owner, body, updated_at.
func MemoValues(owner, kind string, body json.RawMessage, now time.Time) ([]any, error) {
	if body == nil {
		return nil, errors.New("body: missing; drop the memo instead")
	}
	return values(text("kind", kind), text("owner", owner), document("body", body), Instant(now))
}

// Memo is a memo with its owner.
type Memo struct {
	Owner string
	Body  json.RawMessage
}

// ScanMemo reads owner, body.
func ScanMemo(scan Scan) (m Memo, err error) {
	err = scan(&m.Owner, raw{&m.Body})
	return m, err
}

// ReplyValues are farm_id, key, request_hash, status, header, body, until.
func ReplyValues(r store.Reply) ([]any, error) {
	return values(r.FarmID, text("key", r.Key), text("request_hash", r.RequestHash),
		int64(r.Status), list("header", r.Header), orNone(r.Body), Instant(r.Until))
}

// ScanReply reads the columns of ReplyValues.
func ScanReply(scan Scan) (r store.Reply, err error) {
	err = scan(&r.FarmID, &r.Key, &r.RequestHash, &r.Status, nestedOf(&r.Header), &r.Body, instant{&r.Until})
	return r, err
}

// SessionValues are hash, farm_id, recipient_id, scope, csrf, until.
func SessionValues(s store.Session) ([]any, error) {
	return values(text("hash", s.Hash), s.FarmID, Reference(s.RecipientID), text("scope", s.Scope),
		text("csrf", s.CSRF), Instant(s.Until))
}

// ScanSession reads the columns of SessionValues.
func ScanSession(scan Scan) (s store.Session, err error) {
	err = scan(&s.Hash, &s.FarmID, reference{&s.RecipientID}, &s.Scope, &s.CSRF, instant{&s.Until})
	return s, err
}

// ScanCounts reads the figures in the order of store.Counts.
func ScanCounts(scan Scan) (c store.Counts, err error) {
	err = scan(&c.Farms, &c.Fields, &c.Beds, &c.Cells, &c.Notices, &c.MessagesQueued,
		&c.MessagesSent, &c.GivenUp, maybeAt{&c.OldestQueued}, maybeAt{&c.OldestForecast})
	return c, err
}

// CheckJobs refuses a job that does not name exactly one thing.
func CheckJobs(jobs []store.Job) error {
	for _, j := range jobs {
		named := 0
		for _, id := range []int64{j.MessageID, j.CellID, j.FieldID} {
			if id != 0 {
				named++
			}
		}
		if named != 1 {
			return fmt.Errorf("job %+v: must name exactly one of message, cell and field", j)
		}
	}
	return nil
}
