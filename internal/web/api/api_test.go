package api

import (
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Every wrong request is told plainly and leaves the book as it was.
func TestWrongRequestsAreRefusedAndStoreNothing(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	room := read[Room](w.do("POST", "/v1/rooms", `{"name":"Cellar","kind":"cellar","temperature_c":3.9,"humidity":0.95}`).is(201))
	path := "/v1/beds/" + str(bed.ID)
	f, b, r := str(bed.FieldID), str(bed.ID), str(room.ID)
	for _, c := range []struct {
		name, method, path, body string
		status                   int
		field, words             string
	}{
		{"unknown crop", "POST", "/v1/beds", `{"field_id":` + f + `,"name":"B5","crop":"spinich"}`, 422, "crop", "spinach"},
		{"no crop", "POST", "/v1/beds", `{"field_id":` + f + `,"name":"B5"}`, 422, "crop", "missing"},
		{"field of nobody", "POST", "/v1/beds", `{"field_id":99,"name":"B5","crop":"chard"}`, 422, "field_id", "no field 99"},
		{"negative mulch", "POST", "/v1/beds", `{"field_id":` + f + `,"name":"B5","crop":"chard","mulch_cm":-3}`, 422, "mulch_cm", "from 0 to 60 cm"},
		{"negative mulch in a change", "PATCH", path, `{"mulch_cm":-3}`, 422, "mulch_cm", "from 0 to 60 cm"},
		{"negative stand", "POST", "/v1/beds", `{"field_id":` + f + `,"name":"B5","crop":"chard","standing_kg":-1}`, 422, "standing_kg", "from 0"},
		{"nothing lifted an hour", "PATCH", path, `{"lift_kg_per_hour":0}`, 422, "lift_kg_per_hour", "more than 0"},
		{"cost-loss in per cent", "PATCH", path, `{"cost_loss":20}`, 422, "cost_loss", "not per cent"},
		{"cost-loss of one", "PATCH", path, `{"cost_loss":1}`, 422, "cost_loss", "less than 1"},
		{"unknown purpose", "PATCH", path, `{"purpose":"sale"}`, 422, "purpose", "fresh, store, overwinter, household"},
		{"no such day", "PATCH", path, `{"sown_on":"2026-02-30"}`, 422, "sown_on", "calendar date"},
		{"sown in the future", "PATCH", path, `{"sown_on":"2099-07-08"}`, 422, "sown_on", "lies ahead"},
		{"unknown cover", "PATCH", path, `{"covers":[{"kind":"tarp","on":"2026-10-01"}]}`, 422, "covers[0].kind", "row_cover_light"},
		{"cover off before on", "PATCH", path, `{"covers":[{"kind":"low_tunnel","on":"2026-10-01","off":"2026-09-01"}]}`, 422, "covers[0].off", "later than on"},
		{"cover without a day", "PATCH", path, `{"covers":[{"kind":"low_tunnel"}]}`, 422, "covers[0]", "on is missing"},
		{"a bed that moves", "PATCH", path, `{"field_id":7}`, 422, "field_id", "stays in its field"},
		{"name emptied", "PATCH", path, `{"name":null}`, 422, "name", "cannot be emptied"},
		{"latitude 444", "POST", "/v1/fields", `{"name":"x","latitude":444,"longitude":-92}`, 422, "latitude", "from -90 to 90 degrees north"},
		{"longitude 181", "POST", "/v1/fields", `{"name":"x","latitude":44,"longitude":181}`, 422, "longitude", "from -180 to 180"},
		{"unknown soil", "POST", "/v1/fields", `{"name":"x","latitude":44,"longitude":-92,"soil":"mud"}`, 422, "soil", "sandy_loam"},
		{"deep low spot", "POST", "/v1/fields", `{"name":"x","latitude":44,"longitude":-92,"low_spot_k":16}`, 422, "low_spot_k", "from 0 to 15"},
		{"unknown zone", "POST", "/v1/fields", `{"name":"x","latitude":44,"longitude":-92,"time_zone":"Mars/Base"}`, 422, "time_zone", "IANA"},
		{"text for a number", "POST", "/v1/fields", `{"name":"x","latitude":"44","longitude":-92}`, 422, "latitude", "must be a number"},
		{"number for a text", "POST", "/v1/fields", `{"name":4,"latitude":44,"longitude":-92}`, 422, "name", "must be text"},
		{"list for an entry", "POST", "/v1/fields", `[]`, 422, "body", "must be an object"},
		{"unknown member", "POST", "/v1/fields", `{"name":"x","latitude":44,"longitude":-92,"altitude":3}`, 422, "altitude", "not known"},
		{"unknown member in a change", "PATCH", path, `{"colour":"red"}`, 422, "colour", "not known"},
		{"member in other case", "PATCH", path, `{"Name":"red"}`, 422, "Name", "not known"},
		{"no JSON", "POST", "/v1/fields", `{"name":`, 400, "body", "is not JSON"},
		{"no body", "POST", "/v1/fields", "", 400, "", "body is required"},
		{"control characters", "POST", "/v1/fields", `{"name":"a\u000d\u000aBcc: x","latitude":44,"longitude":-92}`, 422, "name", "control"},
		{"nobody to reach", "POST", "/v1/recipients", `{"name":"A"}`, 422, "email", "email or phone"},
		{"broken address", "POST", "/v1/recipients", `{"name":"A","email":"a@b@c"}`, 422, "email", "plain e-mail address"},
		{"address with a name", "POST", "/v1/recipients", `{"name":"A","email":"A <a@example.org>"}`, 422, "email", "plain e-mail address"},
		{"number without country", "POST", "/v1/recipients", `{"name":"A","phone":"207 555 0123"}`, 422, "phone", "country code"},
		{"half a quiet time", "POST", "/v1/recipients", `{"name":"A","email":"a@example.org","quiet_from":"21:00"}`, 422, "quiet_to", "both or neither"},
		{"clock past midnight", "POST", "/v1/recipients", `{"name":"A","email":"a@example.org","quiet_from":"25:00","quiet_to":"06:00"}`, 422, "quiet_from", "00:00 to 23:59"},
		{"unknown kind", "POST", "/v1/recipients", `{"name":"A","email":"a@example.org","kinds":["gossip"]}`, 422, "kinds[0]", "harvest-before"},
		{"unknown room kind", "POST", "/v1/rooms", `{"name":"A","kind":"shed","temperature_c":4}`, 422, "kind", "cold_store"},
		{"humidity in per cent", "POST", "/v1/rooms", `{"name":"A","kind":"fridge","temperature_c":4,"humidity":95}`, 422, "humidity", "0.95"},
		{"room without temperature", "POST", "/v1/rooms", `{"name":"A","kind":"fridge"}`, 422, "temperature_c", "missing"},
		{"lot of nothing", "POST", "/v1/lots", `{"room_id":` + r + `,"crop":"carrot","kg":0,"harvested_at":"2026-11-01T12:00:00Z"}`, 422, "kg", "more than 0"},
		{"lot of no room", "POST", "/v1/lots", `{"room_id":77,"crop":"carrot","kg":5,"harvested_at":"2026-11-01T12:00:00Z"}`, 422, "room_id", "no room 77"},
		{"lot of the future", "POST", "/v1/lots", `{"room_id":` + r + `,"crop":"carrot","kg":5,"harvested_at":"2027-11-01T12:00:00Z"}`, 422, "harvested_at", "future"},
		{"lot cured before", "POST", "/v1/lots", `{"room_id":` + r + `,"crop":"onion","kg":5,"harvested_at":"2026-11-01T12:00:00Z","cured_at":"2026-10-01T12:00:00Z"}`, 422, "cured_at", "before harvested_at"},
		{"time without zone", "POST", "/v1/readings", `{"field_id":` + f + `,"at":"2026-11-14T07:00:00","quantity":"air_c","value":-2}`, 422, "at", "zone"},
		{"reading of tomorrow", "POST", "/v1/readings", `{"field_id":` + f + `,"at":"2026-11-15T07:00:00Z","quantity":"air_c","value":-2}`, 422, "at", "future"},
		{"unknown quantity", "POST", "/v1/readings", `{"field_id":` + f + `,"at":"2026-11-14T07:00:00Z","quantity":"air_f","value":20}`, 422, "quantity", "air_min_c"},
		{"colder than anywhere", "POST", "/v1/readings", `{"field_id":` + f + `,"at":"2026-11-14T07:00:00Z","quantity":"air_c","value":-100}`, 422, "value", "from -70 to 60 °C"},
		{"soil without depth", "POST", "/v1/readings", `{"field_id":` + f + `,"at":"2026-11-14T07:00:00Z","quantity":"soil_c","value":2}`, 422, "depth_cm", "depth"},
		{"air with depth", "POST", "/v1/readings", `{"field_id":` + f + `,"at":"2026-11-14T07:00:00Z","quantity":"air_c","value":2,"depth_cm":5}`, 422, "depth_cm", "soil_c only"},
		{"no readings", "POST", "/v1/readings/bulk", `{"readings":[]}`, 422, "readings", "1 to 5000"},
		{"one of many wrong", "POST", "/v1/readings/bulk", `{"readings":[{"field_id":` + f + `,"at":"2026-11-14T07:00:00Z","quantity":"air_c","value":2},{"field_id":` + f + `,"at":"2026-11-14T08:00:00Z","quantity":"air_c","value":200}]}`, 422, "readings[1].value", "°C"},
		{"tonight is not over", "POST", "/v1/findings", `{"bed_id":` + b + `,"night":"2026-11-14","lost_fraction":0.5}`, 422, "night", "2026-11-13"},
		{"more than all lost", "POST", "/v1/findings", `{"bed_id":` + b + `,"night":"2026-11-12","lost_fraction":50}`, 422, "lost_fraction", "half is 0.5"},
		{"finding of no bed", "POST", "/v1/findings", `{"bed_id":99,"night":"2026-11-12","lost_fraction":0.5}`, 422, "bed_id", "no bed 99"},
		{"unknown language", "PATCH", "/v1/farm", `{"language":"fr"}`, 422, "language", "en, es"},
		{"unknown currency", "PATCH", "/v1/farm", `{"currency":"shillings"}`, 422, "currency", "ISO 4217"},
		{"notice a year ahead", "PATCH", "/v1/farm", `{"notice_lead_h":9000}`, 422, "notice_lead_h", "hours"},
		{"limit in °F", "PATCH", "/v1/farm", `{"wind_chill_limit_c":20}`, 422, "wind_chill_limit_c", "°C"},
		{"crew that never sleeps", "PATCH", "/v1/farm", `{"crew":[{"day":"mon","from":"17:00","to":"08:00","people":2}]}`, 422, "crew[0].to", "midnight"},
		{"crew of nobody", "PATCH", "/v1/farm", `{"crew":[{"day":"mon","from":"08:00","to":"17:00","people":0}]}`, 422, "crew[0].people", "more than 0"},
		{"want of the unknown", "PATCH", "/v1/farm", `{"wanted":[{"crop":"manna","kg_per_week":4,"from":"2026-11-01","to":"2026-12-01"}]}`, 422, "wanted[0].crop", "catalogue"},
		{"unknown what-if cover", "POST", path + "/what-if", `{"cover":"tarp"}`, 422, "cover", "low_tunnel"},
		{"too much what-if straw", "POST", path + "/what-if", `{"mulch_cm":80}`, 422, "mulch_cm", "0 to 60"},
		{"wrong page", "GET", "/v1/beds?limit=0", "", 422, "limit", "at least 1"},
		{"unknown parameter", "GET", "/v1/beds?page=2", "", 422, "page", "unknown query parameter"},
		{"unknown notice kind", "GET", "/v1/notices?kind=gossip", "", 422, "kind", "harvest-before"},
		{"unknown address", "GET", "/v1/tractors", "", 404, "", "nothing at this address"},
		{"unknown method", "PUT", path, `{}`, 405, "", "Allow"},
		{"bed nobody has", "GET", "/v1/beds/99", "", 404, "", "no such entry"},
		{"crop nobody has", "GET", "/v1/crops/manna", "", 404, "", "catalogue"},
		{"field with beds", "DELETE", "/v1/fields/" + f, "", 409, "", "clear them first"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := w.counts()
			got := w.do(c.method, c.path, c.body)
			got.T = t
			got.refused(c.status, c.field, c.words)
			assert.Equal(t, before, w.counts(), "something was stored")
		})
	}
}

func TestBodiesAreBounded(t *testing.T) {
	w := newWorld(t)
	before := w.counts()
	huge := `{"name":"` + strings.Repeat("x", maxBody) + `"}`
	w.do("POST", "/v1/fields", huge).refused(413, "", "too large")
	w.do("PATCH", "/v1/farm", huge).refused(413, "", "too large")
	w.do("POST", "/v1/import", strings.Repeat("x", maxImport+1), headers{"Content-Type": "text/csv"}).refused(413, "", "too large")
	w.do("POST", "/v1/fields", `<field/>`, headers{"Content-Type": "application/xml"}).refused(415, "body", "application/json")
	w.do("POST", "/v1/import", `{}`).refused(415, "", "text/csv")
	assert.Equal(t, before, w.counts())
}

func TestWhoMayDoWhat(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	path := "/v1/beds/" + str(bed.ID)
	none := headers{"Authorization": ""}
	got := w.do("GET", "/v1/farm", "", none).refused(401, "", "Authorization: Bearer")
	assert.Contains(t, got.header.Get("WWW-Authenticate"), "Bearer")
	w.do("GET", "/v1/farm", "", headers{"Authorization": "Bearer ws_nosuchtoken"}).refused(401, "", "not known")
	w.do("GET", "/v1/farm", "", headers{"Authorization": "Basic " + w.token}).refused(401, "", "Bearer")

	reader, err := w.commands.MakeToken(t.Context(), "Hill Farm", farm.ScopeRead)
	require.NoError(t, err)
	assert.False(t, reader.NewFarm)
	read := headers{"Authorization": "Bearer " + reader.Token}
	w.do("GET", path, "", read).is(200)
	w.judge.verdict = farm.Verdict{State: farm.Holds}
	w.do("POST", path+"/what-if", `{"mulch_cm":5}`, read).is(200)
	before := w.counts()
	w.do("PATCH", path, `{"name":"x"}`, read).refused(403, "", "scope write")
	w.do("POST", "/v1/fields", `{"name":"x","latitude":1,"longitude":1}`, read).refused(403, "", "scope write")
	w.do("DELETE", path, "", read).refused(403, "", "scope write")
	assert.Equal(t, before, w.counts())

	require.NoError(t, w.commands.RevokeToken(t.Context(), reader.Token))
	w.do("GET", path, "", read).refused(401, "", "revoked")
}

func TestFarmsDoNotSeeEachOther(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	room := read[Room](w.do("POST", "/v1/rooms", `{"name":"Cellar","kind":"cellar","temperature_c":4}`).is(201))
	lot := read[Lot](w.do("POST", "/v1/lots", `{"room_id":`+str(room.ID)+`,"crop":"carrot","kg":5,"harvested_at":"2026-11-01T12:00:00Z"}`).is(201))
	person := read[Recipient](w.do("POST", "/v1/recipients", `{"name":"A","email":"a@example.org"}`).is(201))
	told := w.notice(bed, notice.HarvestBefore)

	other, err := w.commands.MakeToken(t.Context(), "Valley Farm", farm.ScopeWrite)
	require.NoError(t, err)
	as := headers{"Authorization": "Bearer " + other.Token}
	before := w.counts()
	for _, path := range []string{
		"/v1/fields/" + str(bed.FieldID), "/v1/beds/" + str(bed.ID), "/v1/rooms/" + str(room.ID), "/v1/lots/" + str(lot.ID),
		"/v1/recipients/" + str(person.ID),
	} {
		w.do("GET", path, "", as).refused(404, "", "no such entry")
		w.do("PATCH", path, `{}`, as).refused(404, "", "no such entry")
		w.do("DELETE", path, "", as).refused(404, "", "no such entry")
	}
	w.do("GET", "/v1/beds/"+str(bed.ID)+"/outlook", "", as).refused(404, "", "no such entry")
	w.do("POST", "/v1/beds/"+str(bed.ID)+"/what-if", `{}`, as).refused(404, "", "no such entry")
	w.do("GET", "/v1/notices/"+str(told), "", as).refused(404, "", "no such entry")
	w.do("GET", "/v1/notices/"+str(told)+"/answers", "", as).refused(404, "", "no such entry")
	w.do("POST", "/v1/notices/"+str(told)+"/answers", `{"answer":"seen"}`, as).refused(404, "", "no such entry")
	w.do("POST", "/v1/recipients/"+str(person.ID)+"/test", "", as).refused(404, "", "no such entry")
	w.do("GET", "/v1/readings?field_id="+str(bed.FieldID), "", as).refused(404, "", "no such entry")
	w.do("POST", "/v1/beds", `{"field_id":`+str(bed.FieldID)+`,"name":"x","crop":"chard"}`, as).refused(422, "field_id", "on this farm")
	w.do("POST", "/v1/lots", `{"room_id":`+str(room.ID)+`,"crop":"chard","kg":1,"harvested_at":"2026-11-01T12:00:00Z"}`, as).refused(422, "room_id", "on this farm")
	w.do("POST", "/v1/findings", `{"bed_id":`+str(bed.ID)+`,"night":"2026-11-01","lost_fraction":0}`, as).refused(422, "bed_id", "on this farm")
	w.do("POST", "/v1/readings", `{"field_id":`+str(bed.FieldID)+`,"at":"2026-11-14T07:00:00Z","quantity":"air_c","value":-2}`, as).refused(422, "field_id", "on this farm")
	assert.Empty(t, read[List[Bed]](w.do("GET", "/v1/beds", "", as).is(200)).Items)
	assert.Empty(t, read[List[Notice]](w.do("GET", "/v1/notices", "", as).is(200)).Items)
	w.do("PATCH", "/v1/farm", `{"name":"Hill Farm"}`, as).refused(409, "", "already")
	assert.Equal(t, before, w.counts())
}

func (w *world) notice(b Bed, kind string) int64 {
	w.Helper()
	var id int64
	require.NoError(w, w.store.Write(w.Context(), func(tx store.Writer) (err error) {
		id, err = tx.AddNotice(w.Context(), store.Notice{
			FarmID: w.farmID, Subject: fmt.Sprintf("bed:%d", b.ID), FieldID: b.FieldID, BedID: b.ID, Kind: kind,
			Night: "2026-11-16", IssuedAt: noon, HarvestBefore: unit.Some(noon.Add(48 * time.Hour)), Likelihood: unit.Some(0.7),
			Facts: json.RawMessage(`{"kind":"` + kind + `","bed":"B4"}`),
		})
		return err
	}))
	return id
}

func TestChangesNameTheVersionTheySaw(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	path := "/v1/beds/" + str(bed.ID)
	tag := w.do("GET", path, "").is(200).header.Get("ETag")
	changed := w.do("PATCH", path, `{"standing_kg":70}`, headers{"If-Match": tag}).is(200)
	assert.NotEqual(t, tag, changed.header.Get("ETag"))
	before := w.counts()
	w.do("PATCH", path, `{"standing_kg":60}`, headers{"If-Match": tag}).refused(412, "", "changed since")
	w.do("DELETE", path, "", headers{"If-Match": tag}).refused(412, "", "changed since")
	w.do("PATCH", path, `{"standing_kg":60}`, headers{"If-Match": "W/\"x\""}).refused(412, "", "changed since")
	assert.Equal(t, before, w.counts())
	assert.Equal(t, unit.Some(70.0), read[Bed](w.do("GET", path, "")).StandingKg)
	w.do("PATCH", path, `{"standing_kg":50}`).is(200)
	w.do("PATCH", path, `{"standing_kg":40}`, headers{"If-Match": "*"}).is(200)
	tag = w.do("GET", path, "").is(200).header.Get("ETag")
	w.do("DELETE", path, "", headers{"If-Match": tag}).is(204)
}

func TestAPostIsSafeToRepeat(t *testing.T) {
	w := newWorld(t)
	f := str(w.field().ID)
	body := `{"field_id":` + f + `,"name":"B5","crop":"kale"}`
	key := headers{"Idempotency-Key": "k-1"}
	first := w.do("POST", "/v1/beds", body, key).is(201)
	again := w.do("POST", "/v1/beds", ` { "crop":"kale", "name":"B5", "field_id":`+f+` } `, key).is(201)
	assert.Equal(t, first.body, again.body)
	assert.Equal(t, first.header.Get("ETag"), again.header.Get("ETag"))
	assert.Equal(t, first.header.Get("Location"), again.header.Get("Location"))
	assert.Empty(t, first.header.Get("Idempotency-Replayed"))
	assert.Equal(t, "true", again.header.Get("Idempotency-Replayed"))
	before := w.counts()
	w.do("POST", "/v1/beds", `{"field_id":`+f+`,"name":"B6","crop":"kale"}`, key).refused(422, "Idempotency-Key", "another request")
	w.do("POST", "/v1/rooms", `{"name":"x","kind":"fridge","temperature_c":4}`, key).refused(422, "Idempotency-Key", "another request")
	assert.Equal(t, before, w.counts())

	// What was refused has not used the key up.
	wrong := headers{"Idempotency-Key": "k-2"}
	w.do("POST", "/v1/beds", `{"field_id":`+f+`,"name":"B7","crop":"manna"}`, wrong).refused(422, "crop", "")
	w.do("POST", "/v1/beds", `{"field_id":`+f+`,"name":"B7","crop":"kale"}`, wrong).is(201)

	// Another farm's key of the same name is another key.
	other, err := w.commands.MakeToken(t.Context(), "Valley Farm", farm.ScopeWrite)
	require.NoError(t, err)
	w.do("POST", "/v1/rooms", `{"name":"x","kind":"fridge","temperature_c":4}`, key, headers{"Authorization": "Bearer " + other.Token}).is(201)
	w.do("POST", "/v1/beds", body, headers{"Idempotency-Key": strings.Repeat("k", 256)}).refused(422, "Idempotency-Key", "at most 255")
}

// worlds are both databases; in one of them writers run side by side.
var worlds = map[string]func(*testing.T) *world{"sqlite": newWorld, "postgres": newWorldOnPostgres}

// together does the same at the same moment.
func together(n int, do func(i int) reply) []reply {
	replies := make([]reply, n)
	var all sync.WaitGroup
	for i := range replies {
		all.Go(func() { replies[i] = do(i) })
	}
	all.Wait()
	return replies
}

func TestPostsAtTheSameMomentMakeOneBed(t *testing.T) {
	for name, world := range worlds {
		t.Run(name, func(t *testing.T) {
			w := world(t)
			body := `{"field_id":` + str(w.field().ID) + `,"name":"B5","crop":"kale"}`
			replies := together(8, func(int) reply { return w.do("POST", "/v1/beds", body, headers{"Idempotency-Key": "same"}) })
			for _, r := range replies {
				r.is(201)
				assert.Equal(t, string(replies[0].body), string(r.body))
			}
			assert.Len(t, read[List[Bed]](w.do("GET", "/v1/beds", "").is(200)).Items, 1)
		})
	}
}

// Of changes at the same moment that name one version, one wins and the others
// hear of it; none is lost without a word.
func TestChangesAtTheSameMomentAreNotLost(t *testing.T) {
	for name, world := range worlds {
		t.Run(name, func(t *testing.T) {
			w := world(t)
			bed := w.bed()
			path := "/v1/beds/" + str(bed.ID)
			named := together(6, func(i int) reply {
				return w.do("PATCH", path, fmt.Sprintf(`{"standing_kg":%d}`, i), headers{"If-Match": etag(bed.Version)})
			})
			assert.Equal(t, map[int]int{200: 1, 412: 5}, tally(named))
			seen := read[Bed](w.do("GET", path, "").is(200)).Version
			unnamed := tally(together(6, func(i int) reply { return w.do("PATCH", path, fmt.Sprintf(`{"standing_kg":%d}`, i)) }))
			assert.Equal(t, 6, unnamed[200]+unnamed[409], "%v", unnamed)
			assert.Equal(t, seen+int64(unnamed[200]), read[Bed](w.do("GET", path, "").is(200)).Version)
		})
	}
}

func tally(replies []reply) map[int]int {
	counts := map[int]int{}
	for _, r := range replies {
		counts[r.status]++
	}
	return counts
}

func TestTooManyRequestsWait(t *testing.T) {
	w := newWorldWith(t, 3)
	for range 3 {
		w.do("GET", "/v1/farm", "").is(200)
	}
	got := w.do("GET", "/v1/farm", "").refused(429, "", "Retry-After")
	assert.NotEmpty(t, got.header.Get("Retry-After"))

	// Strangers wait without making the farm wait.
	w = newWorldWith(t, 3)
	for range 3 {
		w.do("GET", "/v1/farm", "", headers{"Authorization": "Bearer ws_guess"}).is(401)
	}
	w.do("GET", "/v1/farm", "", headers{"Authorization": "Bearer ws_guess"}).refused(429, "", "Retry-After")
	w.do("GET", "/v1/farm", "").is(200)
	w.do("HEAD", "/v1/farm", "").is(200)
}

// What is secret stays out of answers and out of the log.
func TestSecretsAreNotRepeated(t *testing.T) {
	w := newWorld(t)
	secret := "ws_s3cr3ts3cr3ts3cr3ts3cr3ts3cr3t"
	for _, r := range []reply{
		w.do("GET", "/v1/farm", "", headers{"Authorization": "Bearer " + secret}),
		w.do("POST", "/v1/fields", `{"token":"`+secret+`","name":"x"}`),
		w.do("POST", "/v1/fields", `{"name":"x","latitude":"`+secret+`"}`),
		w.do("POST", "/v1/recipients", `{"name":"x","email":"`+secret+`"}`),
		w.do("POST", "/v1/recipients", `{"name":"x","phone":"`+secret+`"}`),
		w.do("POST", "/v1/fields", `{"name":"`+secret),
		w.do("POST", "/v1/fields", secret),
		w.do("GET", "/v1/beds/"+secret, ""),
		w.do("GET", "/v1/beds?limit="+secret, ""),
		w.do("GET", "/v1/notices?from="+secret, ""),
	} {
		assert.GreaterOrEqual(t, r.status, 400)
		assert.NotContains(t, string(r.body), "s3cr3t")
	}
	assert.NotContains(t, w.log.String(), "s3cr3t")
	assert.NotContains(t, w.log.String(), w.token)
}

func TestAFailureOfTheStoreIsToldWithoutItsWords(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	w.judge.err = fmt.Errorf("dial tcp 10.1.2.3: password of hill wrong")
	got := w.do("GET", "/v1/beds/"+str(bed.ID)+"/outlook", "").refused(500, "", "in the log")
	assert.NotContains(t, string(got.body), "10.1.2.3")
	assert.Contains(t, w.log.String(), "10.1.2.3")
	w.judge.err = &NotYet{"there is no forecast yet"}
	w.do("GET", "/v1/beds/"+str(bed.ID)+"/outlook", "").refused(409, "", "no forecast yet")
}
