package api

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func get(h http.Handler) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
	return w
}

func TestHealth(t *testing.T) {
	var log bytes.Buffer
	logger := slog.New(slog.NewTextHandler(&log, nil))
	assert.Equal(t, 200, get(Healthz()).Code)
	up := Readyz(func(context.Context) error { return nil }, logger)
	assert.Equal(t, 200, get(up).Code)
	down := get(Readyz(func(context.Context) error { return errors.New("dial tcp 10.1.2.3") }, logger))
	assert.Equal(t, 503, down.Code)
	assert.NotContains(t, down.Body.String(), "10.1.2.3")
	assert.Contains(t, log.String(), "10.1.2.3")
}

type counter struct {
	counts store.Counts
	err    error
}

func (c counter) Counts(context.Context) (store.Counts, error) { return c.counts, c.err }

func scrape(t *testing.T, c counter) string {
	t.Helper()
	r := prometheus.NewRegistry()
	r.MustRegister(BookCounts(c, func() time.Time { return noon }, slog.New(slog.DiscardHandler)))
	page := get(Metrics(r))
	require.Equal(t, 200, page.Code)
	return page.Body.String()
}

func TestMetrics(t *testing.T) {
	page := scrape(t, counter{counts: store.Counts{Farms: 1, Beds: 12, MessagesQueued: 3, OldestQueued: unit.Some(noon.Add(-time.Minute))}})
	for _, line := range []string{
		"winterstand_books_up 1", `winterstand_entries{kind="beds"} 12`, `winterstand_messages{state="queued"} 3`,
		"winterstand_oldest_queued_message_seconds 60", "# TYPE winterstand_books_up gauge",
	} {
		assert.Contains(t, page, line+"\n")
	}
	assert.NotContains(t, page, "winterstand_oldest_forecast_seconds ", "there is none: it has no age")

	// Books that cannot be counted must not look like empty ones.
	page = scrape(t, counter{err: errors.New("gone")})
	assert.Contains(t, page, "winterstand_books_up 0\n")
	assert.NotContains(t, page, "winterstand_entries")
}
