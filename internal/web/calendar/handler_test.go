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
	"winterstand/internal/store"
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

// failing is a book that can be read but for one thing.
type failing struct {
	*paper
	notices, answers, bed, lot error
}

func (f failing) Notices(ctx context.Context, farmID int64, of store.NoticeFilter) ([]store.Notice, error) {
	list, _ := f.paper.Notices(ctx, farmID, of)
	return list, f.notices
}

func (f failing) Answers(context.Context, int64, int64) ([]farm.Answer, error) { return nil, f.answers }
func (f failing) Bed(context.Context, int64, int64) (farm.Bed, error)          { return f.paper.bed, f.bed }
func (f failing) Lot(context.Context, int64, int64) (farm.Lot, error)          { return f.paper.lot, f.lot }

// Half a calendar would take entries out of people's own; what is no longer in the
// book is taken out of it.
func TestACalendarIsWholeOrNone(t *testing.T) {
	broken := errors.New("disk on fire")
	for _, c := range []struct {
		name string
		book failing
		want int
	}{
		{"all is there", failing{}, http.StatusOK},
		{"the notices", failing{notices: broken}, http.StatusServiceUnavailable},
		{"the answers", failing{answers: broken}, http.StatusServiceUnavailable},
		{"the bed", failing{bed: broken}, http.StatusServiceUnavailable},
		{"the lot", failing{lot: broken}, http.StatusServiceUnavailable},
		{"a bed that is gone", failing{bed: store.ErrNotFound}, http.StatusOK},
	} {
		p := newPaper(t)
		p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
		p.notices[0].Answer = farm.Seen
		p.tell(notice.UseBy, noon, none, func(f *notice.Facts) {
			f.Bed, f.BedID, f.Verdict = "", 0, nil
			f.Lot = &notice.LotFacts{ID: 4, Kg: 30, Room: "Root room", UseBy: thursday, Early: thursday, Clock: "ageing"}
		})
		p.about("lot:4", "2026-11-19")
		c.book.paper = p
		f := p.feed(noon)
		f.Book = c.book
		got := ask(f, http.MethodGet, Path(p.owner.CalendarSecret))
		assert.Equal(t, c.want, got.Code, c.name)
		assert.Equal(t, c.want == http.StatusOK, strings.Contains(got.Body.String(), "BEGIN:VEVENT"), c.name)
	}
	for i := range 2 { // the first notice of an entry and the last
		p := newPaper(t)
		p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
		p.tell(notice.StandDown, noon.Add(time.Hour), none)
		p.notices[i].Facts = []byte("{")
		assert.Equal(t, http.StatusServiceUnavailable, ask(p.feed(noon), http.MethodGet, Path(p.owner.CalendarSecret)).Code, "facts of notice %d", i+1)
	}
}
