package api

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/notice"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
)

// shelf is a farm with one entry of each sort, and where each is asked for.
func (w *world) shelf() (paths []string) {
	w.Helper()
	bed := w.bed()
	w.verdict(bed, sample())
	told := w.notice(bed, notice.HarvestBefore)
	room := read[Room](w.do("POST", "/v1/rooms", `{"name":"Cellar","kind":"cellar","temperature_c":3.9}`).is(201))
	lot := read[Lot](w.do("POST", "/v1/lots", `{"room_id":`+str(room.ID)+`,"crop":"carrot","kg":20,"harvested_at":"2026-11-01T12:00:00Z"}`).is(201))
	person := read[Recipient](w.do("POST", "/v1/recipients", `{"name":"A","email":"a@example.org"}`).is(201))
	w.do("POST", "/v1/readings", `{"field_id":`+str(bed.FieldID)+`,"at":"2026-11-14T07:00:00Z","quantity":"air_c","value":-2}`).is(201)
	w.do("POST", "/v1/findings", `{"bed_id":`+str(bed.ID)+`,"night":"2026-11-12","lost_fraction":0.5}`).is(201)
	answers := "/v1/notices/" + str(told) + "/answers"
	w.do("POST", answers, `{"answer":"seen"}`).is(201)
	return []string{"/v1/farm", "/v1/fields", "/v1/fields/" + str(bed.FieldID), "/v1/beds", "/v1/beds/" + str(bed.ID), "/v1/recipients", "/v1/recipients/" + str(person.ID),
		"/v1/rooms", "/v1/rooms/" + str(room.ID), "/v1/lots", "/v1/lots/" + str(lot.ID), "/v1/readings?field_id=" + str(bed.FieldID), "/v1/findings?bed_id=" + str(bed.ID),
		"/v1/notices", "/v1/notices/" + str(told), answers, "/v1/plan", "/v1/supply", "/v1/supply.csv", "/v1/skill", "/v1/stores", "/v1/season", "/v1/crops"}
}

// An answer is the whole answer or says that it is none.
func TestAnAnswerIsWholeOrAProblem(t *testing.T) {
	w := newWorld(t)
	paths := w.shelf()
	whole := map[string]string{}
	for _, path := range paths {
		whole[path] = string(w.do("GET", path, "").is(200).body)
	}
	failed := map[string]int{}
	opened, ok := w.store.Database.(*sqlite.Store)
	require.True(t, ok)
	storetest.EachTableGone(t, opened.DB(), func(table string) {
		for _, path := range paths {
			got := w.do("GET", path, "")
			if got.status == http.StatusOK {
				assert.Equal(t, whole[path], string(got.body), "%s without the table %s", path, table)
				continue
			}
			failed[table]++
			if table == "token" {
				got.refused(http.StatusServiceUnavailable, "", "try again shortly")
				continue
			}
			got.refused(http.StatusInternalServerError, "", "in the log")
		}
	})
	assert.Equal(t, len(paths), failed["token"], "nobody is known without it")
	for _, table := range []string{"farm", "field", "bed", "recipient", "room", "lot", "reading", "finding", "notice", "answer", "verdict"} {
		assert.Positive(t, failed[table], table)
	}
}

// What the reckoning cannot give is no empty list.
func TestAReckoningThatFailsIsAProblem(t *testing.T) {
	w := newWorld(t)
	w.books.err = assert.AnError
	for _, path := range []string{"/v1/plan", "/v1/supply", "/v1/supply.csv", "/v1/skill", "/v1/stores", "/v1/season"} {
		w.do("GET", path, "").refused(http.StatusInternalServerError, "", "in the log")
	}
}

var digits = regexp.MustCompile(`\d+`)

// A change that is answered as made is answered wholly; else it is a fault of ours.
func TestAChangeIsAnsweredWhollyOrAsAFault(t *testing.T) {
	w := newWorld(t)
	paths := w.shelf()
	at := func(kind string) string {
		for _, p := range paths {
			if strings.HasPrefix(p, "/v1/"+kind+"/") {
				return p
			}
		}
		require.Fail(t, "no such entry", kind)
		return ""
	}
	id := func(kind string) string { return at(kind)[strings.LastIndex(at(kind), "/")+1:] }
	changes := []struct{ method, path, body string }{
		{"PATCH", "/v1/farm", `{"notice_lead_h":%d}`},
		{"POST", "/v1/fields", `{"name":"South %d","latitude":46,"longitude":-92}`},
		{"PATCH", at("fields"), `{"low_spot_k":1.%d}`},
		{"POST", "/v1/beds", `{"field_id":` + id("fields") + `,"name":"C%d","crop":"chard"}`},
		{"PATCH", at("beds"), `{"standing_kg":%d}`},
		{"POST", "/v1/recipients", `{"name":"B","email":"b%d@example.org"}`},
		{"PATCH", at("recipients"), `{"name":"A%d"}`},
		{"POST", at("recipients") + "/test", ``},
		{"POST", "/v1/rooms", `{"name":"Room %d","kind":"fridge","temperature_c":3}`},
		{"PATCH", at("rooms"), `{"temperature_c":4.%d}`},
		{"POST", "/v1/lots", `{"room_id":` + id("rooms") + `,"crop":"carrot","kg":%d,"harvested_at":"2026-11-01T12:00:00Z"}`},
		{"PATCH", at("lots"), `{"kg":%d}`},
		{"POST", "/v1/readings", `{"field_id":` + id("fields") + `,"at":"2026-11-13T07:00:00Z","quantity":"air_c","value":-2.%d}`},
		{"POST", "/v1/findings", `{"bed_id":` + id("beds") + `,"night":"2026-11-11","lost_fraction":0.1%d}`},
		{"POST", at("notices") + "/answers", `{"answer":"seen"}`},
		{"DELETE", at("lots"), ``},
		{"DELETE", at("recipients"), ``},
		{"DELETE", at("beds"), ``},
	}
	opened, ok := w.store.Database.(*sqlite.Store)
	require.True(t, ok)
	n := 20
	for _, c := range changes {
		refused, said := 0, map[string]string{}
		for table := range storetest.Contents(t, opened.DB()) {
			n++
			body := strings.ReplaceAll(c.body, "%d", str(n))
			var got reply
			storetest.TableGone(t, opened.DB(), table, func() { got = w.do(c.method, c.path, body) })
			if got.status < 300 {
				said[table] = digits.ReplaceAllString(string(got.body), "#")
				continue
			}
			refused++
			assert.GreaterOrEqual(t, got.status, 500, "%s %s without %s: %s", c.method, c.path, table, got.body)
		}
		assert.Greater(t, refused, 1, "%s %s", c.method, c.path)
		got := w.do(c.method, c.path, strings.ReplaceAll(c.body, "%d", str(n+1)))
		assert.Less(t, got.status, 300, "%s %s on a whole book: %s", c.method, c.path, got.body)
		for table, body := range said {
			assert.Equal(t, digits.ReplaceAllString(string(got.body), "#"), body, "%s %s without %s", c.method, c.path, table)
		}
		n++
	}
}
