package app_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
)

// claims are what nobody may read while nothing can be seen: that a bed can
// stand, that nothing has to come out, that all is running.
var claims = regexp.MustCompile(`(?i)"state": ?"holds"|can stand|can stay|came through the|No bed has a deadline|Nothing has to come out|All is running|[1-9]\d* stands?\b|hardly any chance`)

// reader is somebody who follows links, signed in.
type reader struct {
	*testing.T
	http  *http.Client
	base  string
	token string
}

func (w *world) reader() *reader {
	w.Helper()
	handler, err := w.service.Handler()
	require.NoError(w, err)
	server := httptest.NewServer(handler)
	w.Cleanup(server.Close)
	made, err := w.service.Commands.MakeToken(w.Context(), "Test Farm", farm.ScopeWrite)
	require.NoError(w, err)
	jar, err := cookiejar.New(nil)
	require.NoError(w, err)
	r := &reader{T: w.T, http: &http.Client{Jar: jar}, base: server.URL, token: made.Token}
	csrf := regexp.MustCompile(`name="csrf" value="([^"]*)"`).FindStringSubmatch(r.page("/signin"))
	require.Len(w, csrf, 2)
	res, err := r.http.PostForm(r.base+"/signin/token", url.Values{"csrf": csrf[1:], "token": {made.Token}})
	require.NoError(w, err)
	require.NoError(w, res.Body.Close())
	require.Equal(w, 200, res.StatusCode)
	return r
}

func (r *reader) page(path string) string {
	r.Helper()
	body, status := r.get(path, "")
	require.Equal(r, 200, status, "%s: %s", path, body)
	return body
}

func (r *reader) get(path, bearer string) (string, int) {
	r.Helper()
	req, err := http.NewRequest(http.MethodGet, r.base+path, nil)
	require.NoError(r, err)
	if bearer != "" {
		req.Header.Set("Authorization", "Bearer "+bearer)
	}
	res, err := r.http.Do(req)
	require.NoError(r, err)
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	require.NoError(r, err)
	return string(body), res.StatusCode
}

// routes are all GET routes of the API's own description, their IDs filled in.
func (r *reader) routes(ids map[string]int64) (paths []string) {
	r.Helper()
	body, status := r.get("/openapi.json", "")
	require.Equal(r, 200, status)
	var doc struct {
		Paths map[string]map[string]json.RawMessage `json:"paths"`
	}
	require.NoError(r, json.Unmarshal([]byte(body), &doc))
	for path, methods := range doc.Paths {
		if _, ok := methods["get"]; !ok {
			continue
		}
		noun, rest, found := strings.Cut(path, "/{id}")
		if found {
			id, known := ids[strings.TrimPrefix(noun, "/v1/")]
			require.True(r, known, "no %s to read %s of: give the farm of this test one", noun, path)
			path = fmt.Sprintf("%s/%d%s", noun, id, rest)
		}
		path = strings.Replace(path, "{name}", "chard", 1)
		require.NotContains(r, path, "{")
		if path == "/v1/readings" {
			path += fmt.Sprintf("?field_id=%d", ids["fields"])
		}
		paths = append(paths, path)
	}
	slices.Sort(paths)
	return paths
}

var (
	links   = regexp.MustCompile(`href="(/[^"#]*)"`)
	visible = regexp.MustCompile(`(?s)<(script|style|option|input)\b.*?(</(script|style|option)>|>)|<[^>]*>`)
)

// pages are all that can be reached by links, with their text.
func (r *reader) pages() map[string]string {
	r.Helper()
	seen, next := map[string]string{}, []string{"/"}
	for len(next) > 0 {
		path := next[0]
		next = next[1:]
		if _, done := seen[path]; done || strings.HasPrefix(path, "/assets/") || strings.HasSuffix(path, ".json") {
			continue
		}
		body, status := r.get(path, "")
		require.Less(r, status, 400, path)
		seen[path] = strings.Join(strings.Fields(visible.ReplaceAllString(body, " ")), " ")
		for _, m := range links.FindAllStringSubmatch(body, -1) {
			next = append(next, strings.ReplaceAll(m[1], "&amp;", "&"))
		}
	}
	return seen
}

// lively is a farm with something of everything that can be asked for, on which
// all stands.
func (w *world) lively() map[string]int64 {
	w.Helper()
	ann := w.ann()
	room := w.store(farm.ColdStore, 1, 500)
	lot, err := w.service.Commands.AddLot(w.Context(), w.farmID, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set("carrot"),
		Kg: commands.Set(40.0), HarvestedAt: commands.Set(w.clock.Now())})
	require.NoError(w, err)
	kale := w.bed("A1", "kale-curly")
	for name, crop := range map[string]string{"A2": "spinach", "A3": "carrot", "A4": "chard"} {
		w.bed(name, crop)
	}
	w.bed("A5", "parsnip", func(in *commands.BedInput) { in.MulchCm = commands.Set(30.0) }) // stands whatever comes
	w.round()
	return map[string]int64{"fields": w.fieldID, "beds": kale.ID, "recipients": ann.ID, "rooms": room.ID, "lots": lot.ID}
}

// With the rounds and the forecast stopped for four days, no route of the API,
// no page, no calendar and no letter says that anything can stand.
func TestNothingIsSaidToStandOnAStoppedForecast(t *testing.T) {
	w := newWorld(t)
	ids := w.lively()
	calendar, err := w.service.Commands.CalendarSecret(w.Context(), w.farmID)
	require.NoError(t, err)
	r := w.reader()
	held := 0
	for _, text := range r.pages() {
		if claims.MatchString(text) {
			held++
		}
	}
	require.Greater(t, held, 5, "the claims are made while the forecast is fresh: they can be found")
	w.snap()
	w.clock.Add(time.Hour)
	told := ofKind(w.round().Notices, notice.HarvestBefore)
	require.NotEmpty(t, told)
	ids["notices"] = told[0].ID

	w.clock.Add(96 * time.Hour)
	texts := r.pages()
	for _, path := range r.routes(ids) {
		body, status := r.get(path, r.token)
		require.Contains(t, []int{200, 409, 503}, status, "%s: %s", path, body)
		texts["API "+path] = body
	}
	texts["calendar"] = r.page("/calendar/" + calendar + ".ics")
	for _, path := range []string{"/plan", "/supply", "API /v1/plan", fmt.Sprintf("/beds/%d", ids["beds"])} {
		require.Contains(t, texts, path)
	}
	for where, text := range texts {
		if found := claims.FindStringIndex(text); found != nil {
			assert.Fail(t, "still said: "+text[max(0, found[0]-120):min(len(text), found[1]+120)], where)
		}
	}
	assert.Contains(t, texts["/supply"], "Cannot be judged now, so that only what winters are like counts for them: A1, A")
	require.NoError(t, w.service.Letters.StillWatching(t.Context()))
	require.NoError(t, w.service.Drain(t.Context()))
	assert.NotRegexp(t, claims, w.lastMail().Text)
}
