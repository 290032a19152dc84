package calendar

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/unit"
)

func ask(f Feed, method, path string, header ...string) *httptest.ResponseRecorder {
	r := chi.NewRouter()
	f.Mount(r)
	req := httptest.NewRequest(method, path, nil)
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	r.ServeHTTP(w, req)
	return w
}

func TestTheFeedNeedsNoLoginAndSaysWhatItIs(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	f := p.feed(noon)
	got := ask(f, http.MethodGet, Path(p.owner.CalendarSecret))
	assert.Equal(t, http.StatusOK, got.Code)
	assert.Equal(t, "text/calendar; charset=utf-8", got.Header().Get("Content-Type"))
	assert.Equal(t, "private, no-cache", got.Header().Get("Cache-Control"))
	tag := got.Header().Get("ETag")
	assert.NotEmpty(t, tag)
	again := ask(f, http.MethodGet, Path(p.owner.CalendarSecret), "If-None-Match", tag)
	assert.Equal(t, http.StatusNotModified, again.Code)
	assert.Empty(t, again.Body.String())
	assert.Equal(t, http.StatusNotModified, ask(p.feed(noon.Add(9*time.Minute)), http.MethodGet, Path(p.owner.CalendarSecret), "If-None-Match", tag).Code, "time alone changes nothing")
	p.tell(notice.StandDown, noon.Add(time.Hour), none)
	assert.Equal(t, http.StatusOK, ask(p.feed(noon.Add(time.Hour)), http.MethodGet, Path(p.owner.CalendarSecret), "If-None-Match", tag).Code)
	head := ask(f, http.MethodHead, Path(p.owner.CalendarSecret))
	assert.Equal(t, http.StatusOK, head.Code)
	assert.Empty(t, head.Body.String())
}

func TestAnyWrongAddressIsAnsweredAlike(t *testing.T) {
	p := newPaper(t)
	f := p.feed(noon)
	shape := func(w *httptest.ResponseRecorder) http.Header {
		h := w.Header().Clone()
		h.Del("X-Ratelimit-Reset") // the clock's
		return h
	}
	first := ask(f, http.MethodGet, Path("0123456789abcdef0123456789abcdee"))
	assert.Equal(t, http.StatusNotFound, first.Code)
	for _, secret := range []string{"x", "%00", strings.Repeat("a", 5000), p.owner.CalendarSecret + "x", strings.ToUpper(p.owner.CalendarSecret), "....", "%F0%9F%A5%95"} {
		got := ask(f, http.MethodGet, Path(secret))
		assert.Equal(t, first.Code, got.Code, secret)
		assert.Equal(t, first.Body.String(), got.Body.String(), secret)
		assert.Equal(t, shape(first), shape(got), secret)
	}
}

func TestTooManyRequestsOfOneAddress(t *testing.T) {
	p := newPaper(t)
	f := p.feed(noon)
	f.PerMinute = 3
	r := chi.NewRouter()
	f.Mount(r)
	codes := map[int]int{}
	for range 10 {
		w := httptest.NewRecorder()
		r.ServeHTTP(w, httptest.NewRequest(http.MethodGet, Path("0123456789abcdef0123456789abcdee"), nil))
		codes[w.Code]++
	}
	assert.Greater(t, codes[http.StatusTooManyRequests], 3)
	assert.Greater(t, codes[http.StatusNotFound], 2)
}

// torn is a book that cannot be read.
type torn struct{ *paper }

func (torn) FarmByCalendar(context.Context, string) (farm.Farm, error) {
	return farm.Farm{}, errors.New("disk on fire")
}

func TestABookThatCannotBeReadIsNoEmptyCalendar(t *testing.T) {
	p := newPaper(t)
	f := p.feed(noon)
	f.Book = torn{p}
	got := ask(f, http.MethodGet, Path(p.owner.CalendarSecret))
	assert.Equal(t, http.StatusServiceUnavailable, got.Code)
	assert.NotContains(t, got.Body.String(), "fire")
	assert.NotContains(t, got.Body.String(), "VCALENDAR")
}
