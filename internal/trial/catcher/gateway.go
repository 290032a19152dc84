package catcher

import (
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"time"
)

// Text is one text message as it was taken.
type Text struct {
	N    int       `json:"n"` // 1 for the first
	At   time.Time `json:"at"`
	Key  string    `json:"key"` // Idempotency-Key
	To   string    `json:"to"`
	From string    `json:"from,omitempty"`
	Text string    `json:"text"`
}

// gateway takes a text. A repeat of a key is answered like the first, as a
// gateway that knows idempotency keys does, and counted.
func (c *Catcher) gateway(w http.ResponseWriter, r *http.Request) {
	t, err := readText(r)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	switch c.takeText(&t) {
	case Later:
		w.Header().Set("Retry-After", "1")
		http.Error(w, "told to refuse for now", http.StatusServiceUnavailable)
	case Never:
		http.Error(w, "told to refuse for good", http.StatusUnprocessableEntity)
	case Drop:
		panic(http.ErrAbortHandler) // the documented way to break the line
	default:
		writeJSON(w, http.StatusAccepted, map[string]any{"status": "queued", "n": t.N})
	}
}

func (c *Catcher) takeText(t *Text) Failure {
	c.mu.Lock()
	defer c.mu.Unlock()
	how := next(&c.failTexts)
	if how == Later || how == Never {
		return how
	}
	c.seenTexts++
	t.N, t.At = c.seenTexts, c.options.Now()
	c.texts = latest(append(c.texts, *t), c.options.Keep)
	c.textCounts[t.Key]++
	return how
}

func readText(r *http.Request) (Text, error) {
	body, err := io.ReadAll(io.LimitReader(r.Body, 64<<10))
	if err != nil {
		return Text{}, err
	}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	var t Text
	switch kind {
	case "application/json":
		if err := json.Unmarshal(body, &t); err != nil {
			return Text{}, fmt.Errorf("body is no JSON object with to and text: %w", err)
		}
	case "application/x-www-form-urlencoded":
		v, err := url.ParseQuery(string(body))
		if err != nil {
			return Text{}, fmt.Errorf("body is no form: %w", err)
		}
		t = Text{To: v.Get("to"), From: v.Get("from"), Text: v.Get("text")}
	default:
		return Text{}, fmt.Errorf("content type %q: must be application/json or application/x-www-form-urlencoded", kind)
	}
	if t.To == "" || t.Text == "" {
		return Text{}, fmt.Errorf("the fields to and text must be there and not empty")
	}
	t.Key = r.Header.Get("Idempotency-Key")
	return t, nil
}

func writeJSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(v)
}
