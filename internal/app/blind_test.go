package app_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

// grid answers requests for the raw grid, everything else goes on.
func (w *world) grid(with http.HandlerFunc) {
	w.front.answer(func(rw http.ResponseWriter, r *http.Request, behind http.Handler) {
		if strings.HasPrefix(r.URL.Path, "/gridpoints/") && !strings.HasSuffix(r.URL.Path, "/stations") {
			with(rw, r)
			return
		}
		behind.ServeHTTP(rw, r)
	})
}

// rewritten serves the stand-in's grid after a change of its text.
func (w *world) rewritten(change func(body []byte) []byte) {
	w.grid(func(rw http.ResponseWriter, r *http.Request) {
		got := httptest.NewRecorder()
		r.Header.Del("If-Modified-Since")
		w.front.behind.ServeHTTP(got, r)
		for k, v := range got.Header() {
			if k != "Content-Length" && k != "Last-Modified" {
				rw.Header()[k] = v
			}
		}
		rw.WriteHeader(got.Code)
		_, _ = rw.Write(change(got.Body.Bytes()))
	})
}

// unavailable is the service's own answer when an office has stopped sending.
func unavailable(rw http.ResponseWriter, _ *http.Request) {
	rw.Header().Set("Content-Type", "application/problem+json")
	rw.WriteHeader(http.StatusServiceUnavailable)
	_, _ = rw.Write([]byte(`{"type":"https://api.weather.gov/problems/ForecastGridExpired","title":"Forecast Grid Expired","status":503}`))
}

func TestA503ForHoursIsBorneThenSaidThenOver(t *testing.T) {
	w := newWorld(t)
	w.ann()
	b := w.bed("A1", "chard")
	w.round()
	w.grid(unavailable)
	assert.Empty(t, w.until(begin.Add(23*time.Hour), 2*time.Hour), "the last forecast still serves")
	assert.Equal(t, string(farm.Holds), w.state(b.ID))

	blind := w.until(begin.Add(26*time.Hour), time.Hour)
	require.Equal(t, []string{notice.Blind}, kinds(blind))
	assert.Equal(t, w.fieldID, blind[0].FieldID)
	assert.Equal(t, string(farm.Unknown), w.state(b.ID))
	mail := w.lastMail()
	assert.Contains(t, mail.Subject, "Long field: I cannot see the weather")
	assert.Contains(t, mail.Text, "too old to trust")
	assert.Contains(t, mail.Text, "503", "what the source answered")
	assert.Contains(t, w.caught.Texts()[0].Text, "cannot see")

	again := w.until(begin.Add(60*time.Hour), 3*time.Hour)
	require.Equal(t, []string{notice.Blind}, kinds(again), "a reminder a day later, not every round")
	w.front.answer(nil)
	seen := w.until(begin.Add(62*time.Hour), time.Hour)
	require.Equal(t, []string{notice.SightAgain}, kinds(seen))
	assert.Equal(t, string(farm.Holds), w.state(b.ID))
	assert.Contains(t, w.lastMail().Subject, "I can see the weather again")
	assert.Empty(t, w.until(begin.Add(66*time.Hour), 2*time.Hour))
}

func (w *world) state(bed int64) string {
	w.Helper()
	v, err := w.service.Book.Verdict(w.Context(), bed)
	require.NoError(w, err)
	judged, _ := v.Kept.AsJudged()
	return string(judged.State)
}

func (w *world) verdict(bed int64) farm.Verdict {
	w.Helper()
	stored, err := w.service.Book.Verdict(w.Context(), bed)
	require.NoError(w, err)
	judged, _ := stored.Kept.AsJudged()
	return judged
}

func TestAnOldUpdateTimeIsNotTakenForAFreshForecast(t *testing.T) {
	w := newWorld(t)
	w.ann()
	b := w.bed("A1", "chard")
	frozen := []byte(nil)
	w.rewritten(func(body []byte) []byte { // a cache that goes on serving one document, as 200
		if frozen == nil {
			frozen = bytes.Clone(body)
		}
		return frozen
	})
	w.round()
	assert.Equal(t, string(farm.Holds), w.state(b.ID))
	ns := w.until(begin.Add(27*time.Hour), 3*time.Hour)
	require.Equal(t, []string{notice.Blind}, kinds(ns))
	assert.Contains(t, w.lastMail().Text, "The last forecast was issued Mon 3 Nov 12:00 pm CST")
	w.front.answer(nil)
	assert.Equal(t, []string{notice.SightAgain}, kinds(w.until(begin.Add(30*time.Hour), 3*time.Hour)))
}

func TestALayerInAnUnknownUnitIsRefusedByName(t *testing.T) {
	for _, c := range []struct {
		layer       string
		kept, blind bool // the rest of the document; the field
	}{
		{"temperature", false, true},
		{"windSpeed", true, true},
		{"quantitativePrecipitation", true, false},
	} {
		t.Run(c.layer, func(t *testing.T) {
			w := newWorld(t)
			w.ann()
			b := w.bed("A1", "chard")
			w.rewritten(func(body []byte) []byte { return withUnit(t, body, c.layer, "wmoUnit:furlong") })
			o := w.round()
			forecast, err := w.service.Book.LastForecast(t.Context(), w.cellID(), "nws")
			if c.kept {
				require.NoError(t, err)
				require.Len(t, forecast.Body.Refused, 1, "only that layer")
				assert.Equal(t, c.layer, forecast.Body.Refused[0].Layer)
				assert.Contains(t, forecast.Body.Refused[0].Reason, "furlong")
			} else {
				require.ErrorIs(t, err, store.ErrNotFound, "without air it is no forecast")
			}
			if !c.blind {
				assert.Empty(t, o.Notices)
				assert.Equal(t, string(farm.Holds), w.state(b.ID))
				return
			}
			require.Equal(t, []string{notice.Blind}, kinds(o.Notices))
			assert.Contains(t, w.lastMail().Text, c.layer)
			assert.Contains(t, w.lastMail().Text, "furlong")
			v := w.verdict(b.ID)
			assert.Equal(t, farm.Unknown, v.State)
			assert.NotEmpty(t, v.Missing)
			w.front.answer(nil)
			w.clock.Add(time.Hour)
			assert.Equal(t, []string{notice.SightAgain}, kinds(w.round().Notices))
		})
	}
}

// withUnit writes another unit over a layer of a grid.
func withUnit(t *testing.T, body []byte, layer, unit string) []byte {
	t.Helper()
	var doc map[string]any
	require.NoError(t, json.Unmarshal(body, &doc))
	l := doc["properties"].(map[string]any)[layer].(map[string]any)
	require.NotEmpty(t, l["uom"])
	l["uom"] = unit
	out, err := json.Marshal(doc)
	require.NoError(t, err)
	return out
}

func (w *world) cellID() int64 {
	w.Helper()
	f, err := w.service.Book.Field(w.Context(), w.farmID, w.fieldID)
	require.NoError(w, err)
	return f.CellID
}

func TestWhatIsNoForecastIsNamedAndTheOldOneKept(t *testing.T) {
	for _, c := range []struct {
		name string
		says string // in the mail
		with http.HandlerFunc
	}{
		{"truncated JSON", "is no whole JSON", func(rw http.ResponseWriter, _ *http.Request) {
			rw.Header().Set("Content-Type", "application/geo+json")
			_, _ = rw.Write([]byte(`{"type":"Feature","properties":{"updateTime":"2025-11-03T18:00:00+00:00","temperature":{"uom":"wmo`))
		}},
		{"an HTML page with status 200", "is a web page, no data", func(rw http.ResponseWriter, _ *http.Request) {
			rw.Header().Set("Content-Type", "text/html")
			_, _ = rw.Write([]byte("<html><body>Back soon</body></html>"))
		}},
		{"a gate that denies access", "403", func(rw http.ResponseWriter, _ *http.Request) {
			rw.Header().Set("Content-Type", "text/html")
			rw.WriteHeader(http.StatusForbidden)
			_, _ = rw.Write([]byte("<HTML><HEAD><TITLE>Access Denied</TITLE></HEAD></HTML>"))
		}},
		{"an empty answer", "is empty", func(rw http.ResponseWriter, _ *http.Request) {
			rw.Header().Set("Content-Type", "application/geo+json")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.ann()
			b := w.bed("A1", "chard")
			w.grid(c.with)
			o := w.round()
			require.Equal(t, []string{notice.Blind}, kinds(o.Notices), "nothing has come in yet: that is said at once")
			assert.Contains(t, w.lastMail().Text, "no forecast has come in at all")
			assert.Contains(t, w.lastMail().Text, c.says)
			assert.Equal(t, string(farm.Unknown), w.state(b.ID))
			_, err := w.service.Book.LastForecast(t.Context(), w.cellID(), "nws")
			assert.ErrorIs(t, err, store.ErrNotFound, "nothing is stored by halves")

			w.front.answer(nil)
			assert.Equal(t, []string{notice.SightAgain}, kinds(w.until(w.clock.Now().Add(2*time.Hour), time.Hour)))
			w.grid(c.with)
			w.clock.Add(3 * time.Hour)
			o = w.round()
			assert.Empty(t, o.Notices, "one bad answer leaves the good one in use")
			assert.NotEmpty(t, o.Trouble)
			assert.Equal(t, string(farm.Holds), w.state(b.ID))
		})
	}
}

func TestAPlaceThatCannotBeFoundIsSaid(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.front.answer(func(rw http.ResponseWriter, r *http.Request, _ http.Handler) { unavailable(rw, r) })
	f, err := w.service.Commands.AddField(t.Context(), w.farmID, fieldInput("Far field", 45.001, -93.201))
	require.NoError(t, err)
	_, err = w.runner.Settle(t.Context(), f.ID)
	require.ErrorContains(t, err, "place field")
	require.NoError(t, w.service.Drain(t.Context()))
	require.Len(t, w.caught.Mails(), 1)
	assert.Contains(t, w.lastMail().Subject, "Far field: I cannot see the weather")
	_, err = w.runner.Settle(t.Context(), f.ID)
	require.Error(t, err)
	require.NoError(t, w.service.Drain(t.Context()))
	assert.Len(t, w.caught.Mails(), 1, "told once a day")
}
