package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"winterstand/internal/service/commands"
	"winterstand/internal/store"
)

// replyKept is how long an answer is kept for its Idempotency-Key. Own default.
const replyKept = 24 * time.Hour

// OnceKey makes a POST safe to repeat.
type OnceKey struct {
	Key string `header:"Idempotency-Key" maxLength:"255" doc:"A name of your own for this request. Sent again within a day with the same body, it gets the same answer and changes nothing; with another body it is refused (422)"`
}

type post[B any] struct {
	OnceKey
	Body B
}

type postByID[B any] struct {
	ByID
	OnceKey
	Body B
}

// made is the answer to a POST.
type made[T any] struct {
	Status   int
	ETag     string `header:"ETag" doc:"Version of the new entry, for If-Match"`
	Location string `header:"Location" doc:"Address of the new entry"`
	Replayed string `header:"Idempotency-Replayed" doc:"true: this is the kept answer to an earlier request with the same Idempotency-Key"`
	Body     T
}

func created[T any](path string, id, version int64, body T) made[T] {
	return made[T]{Status: http.StatusCreated, ETag: etag(version), Location: fmt.Sprintf("%s/%d", path, id), Body: body}
}

// once does a POST. With a key, what is done and the kept answer are written
// in one transaction, so that of several at the same moment one does it and
// the others get its answer.
func once[T any](ctx context.Context, s *service, farmID int64, key OnceKey, request any, do func(commands.Service) (made[T], error)) (*made[T], error) {
	if key.Key == "" {
		out, err := do(s.Commands)
		return &out, err
	}
	hash, err := hashOf(request)
	if err != nil {
		return nil, err
	}
	until := s.Commands.Now().Add(replyKept)
	var out made[T]
	err = s.Commands.Store.Write(ctx, func(w store.Writer) error {
		first, err := w.UseOnce(ctx, fmt.Sprintf("reply:%d:%s", farmID, key.Key), until)
		if err != nil {
			return err
		}
		if !first {
			return replay(ctx, w, farmID, key.Key, hash, &out)
		}
		if out, err = do(s.Commands.Within(w)); err != nil {
			return err
		}
		return remember(ctx, w, store.Reply{FarmID: farmID, Key: key.Key, RequestHash: hash, Until: until}, out)
	})
	return &out, err
}

// hashOf is of the request as it was understood: white space and the order of
// members make no other request.
func hashOf(request any) (string, error) {
	b, err := json.Marshal(request)
	if err != nil {
		return "", fmt.Errorf("hash request: %w", err)
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), nil
}

func remember[T any](ctx context.Context, w store.Writer, r store.Reply, out made[T]) (err error) {
	r.Status = out.Status
	r.Header = map[string]string{"ETag": out.ETag, "Location": out.Location}
	if r.Body, err = json.Marshal(out.Body); err != nil {
		return fmt.Errorf("keep answer: %w", err)
	}
	return w.Remember(ctx, r)
}

func replay[T any](ctx context.Context, w store.Writer, farmID int64, key, hash string, out *made[T]) error {
	r, err := w.Reply(ctx, farmID, key)
	if errors.Is(err, store.ErrNotFound) {
		return problem(http.StatusConflict, because("key_spent"))
	}
	if err != nil {
		return err
	}
	if r.RequestHash != hash {
		return faulty(http.StatusUnprocessableEntity, FieldError{Field: "Idempotency-Key", Reason: because("key_used").String()})
	}
	*out = made[T]{Status: r.Status, ETag: r.Header["ETag"], Location: r.Header["Location"], Replayed: "true"}
	return json.Unmarshal(r.Body, &out.Body)
}
