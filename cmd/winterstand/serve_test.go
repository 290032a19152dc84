package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/patience"
)

// document reads one of the stored public documents.
func document(t *testing.T, name string) []byte {
	t.Helper()
	folder := os.Getenv("WINTERSTAND_CORPUS")
	if folder == "" {
		t.Skip("REAL FORECASTS ARE NOT TESTED: set WINTERSTAND_CORPUS to the folder of stored public documents")
	}
	b, err := os.ReadFile(filepath.Join(folder, "forecasts", "nws", name))
	require.NoError(t, err)
	return b
}

// office answers with stored documents by path, and with nothing else. The
// documents' links name the public host.
type office struct {
	documents map[string][]byte
	mu        sync.Mutex
	asked     map[string]int
}

func (o *office) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	o.mu.Lock()
	o.asked[r.URL.Path]++
	o.mu.Unlock()
	if r.UserAgent() == "" {
		w.WriteHeader(http.StatusForbidden)
		return
	}
	body, ok := o.documents[r.URL.Path]
	if !ok {
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(http.StatusNotFound)
		fmt.Fprintf(w, `{"type":"https://api.weather.gov/problems/NotFound","title":"Not Found","status":404,"detail":"'%s' is not a valid resource path"}`, r.URL.Path)
		return
	}
	w.Header().Set("Content-Type", "application/geo+json")
	w.Header().Set("Cache-Control", "public, max-age=481, s-maxage=3600")
	_, _ = w.Write(body)
}

func (o *office) count(path string) int {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.asked[path]
}

func open(t *testing.T, documents map[string][]byte) (*office, string) {
	t.Helper()
	o := &office{documents: documents, asked: map[string]int{}}
	s := httptest.NewServer(o)
	t.Cleanup(s.Close)
	return o, s.URL
}

const noAlerts = `{"type":"FeatureCollection","features":[],"title":"Current watches, warnings, and advisories"}`

// sixCrops is one bed of each.
var sixCrops = []string{"lettuce-head", "chard", "kale-curly", "spinach", "leek-summer", "carrot"}

// plant registers a farm through the HTTP interface and gives the beds by crop.
func plant(p *process, latitude, longitude float64, zone string, sown string) map[string]int64 {
	p.in.Helper()
	read[map[string]any](p.in, p.ask("PATCH", "/v1/farm", fmt.Sprintf(`{"units":"us","time_zone":%q}`, zone)))
	p.made("/v1/recipients", `{"name":"Ann","email":"ann@farm.test","phone":"+16125550101"}`)
	field := p.made("/v1/fields", fmt.Sprintf(`{"name":"Home field","latitude":%g,"longitude":%g,"soil":"loam"}`, latitude, longitude))
	beds := map[string]int64{}
	for i, c := range sixCrops {
		beds[c] = p.made("/v1/beds", fmt.Sprintf(`{"field_id":%d,"name":"B%d","crop":%q,"sown_on":%q,"standing_kg":60,"price_per_kg":4,"lift_kg_per_hour":20}`, field, i+1, c, sown))
	}
	return beds
}

type bedView struct {
	Name    string `json:"name"`
	Crop    string `json:"crop"`
	Verdict struct {
		State         string     `json:"state"`
		HarvestBefore *time.Time `json:"harvest_before"`
		Likelihood    *float64   `json:"likelihood"`
		Reason        string     `json:"reason"`
		Tolerance     *float64   `json:"tolerance_c"`
		Nights        []struct {
			Night      string  `json:"night"`
			Likelihood float64 `json:"likelihood"`
			AirLow     float64 `json:"air_low_c"`
		} `json:"nights"`
		AsOf   *time.Time `json:"as_of"`
		Issued *time.Time `json:"forecast_issued_at"`
	} `json:"verdict"`
}

// judged waits until every bed has a verdict that rests on a forecast.
func judged(p *process, beds map[string]int64) map[string]bedView {
	p.in.Helper()
	out := map[string]bedView{}
	patience.Until(p.in, func() bool {
		for crop, id := range beds {
			b := read[bedView](p.in, p.ask("GET", fmt.Sprintf("/v1/beds/%d", id), ""))
			if b.Verdict.Issued == nil || b.Verdict.State == "unknown" {
				return false
			}
			out[crop] = b
		}
		return true
	}, "verdicts: %s", p.log)
	return out
}

type noticeView struct {
	ID       int64  `json:"id"`
	Kind     string `json:"kind"`
	BedID    int64  `json:"bed_id"`
	Revision int    `json:"revision"`
}

func notices(p *process) []noticeView {
	p.in.Helper()
	return read[struct {
		Items []noticeView `json:"items"`
	}](p.in, p.ask("GET", "/v1/notices?limit=100", "")).Items
}

// delivered waits until no message is on its way and gives the numbers of
// mails and texts that came.
func delivered(p *process) (mails, texts int) {
	p.in.Helper()
	patience.Until(p.in, func() bool {
		page := string(p.ask("GET", "/metrics", "").body)
		return strings.Contains(page, "winterstand_messages_queued 0") || strings.Contains(page, `winterstand_messages{state="queued"} 0`)
	}, "the end of the queue of messages: %s", p.log)
	return len(p.in.caught.Mails()), len(p.in.caught.Texts())
}

// filled checks that no name stands in a message in the place of what it names.
func (in *installation) filled() {
	in.Helper()
	for _, m := range in.caught.Mails() {
		assert.Empty(in, m.Problem)
		assert.NotRegexp(in, `[{}]`, m.Subject+m.Text)
	}
	for _, m := range in.caught.Texts() {
		assert.NotRegexp(in, `[{}]`, m.Text)
		assert.LessOrEqual(in, len(m.Text), 306, "two segments at most")
	}
}

// tell logs what a grower would read.
func (in *installation) tell(beds map[string]bedView) {
	in.Helper()
	for _, c := range sixCrops {
		v := beds[c].Verdict
		by := "-"
		if v.HarvestBefore != nil {
			by = v.HarvestBefore.Format("Mon 2 Jan 15:04Z")
		}
		in.Logf("%-13s %-15s before %-17s likelihood %.2f, stands to %.1f °C\n    %s", c, v.State, by, deref(v.Likelihood), deref(v.Tolerance), v.Reason)
	}
	for _, m := range in.caught.Mails() {
		in.Logf("MAIL %s\n%s", m.Subject, m.Text)
	}
	for _, m := range in.caught.Texts() {
		in.Logf("TEXT (%d) %s", len(m.Text), m.Text)
	}
}

func deref(v *float64) float64 {
	if v == nil {
		return -1
	}
	return *v
}

// quietAfter checks that further rounds over the same forecast say nothing new.
func quietAfter(in *installation, mails, texts int) {
	in.Helper()
	for range 2 {
		in.now = in.now.Add(3 * time.Minute)
		r := in.run("round")
		require.Equal(in, 0, r.code, r.err)
		assert.Contains(in, r.out, "1 cells, 1 fields, 6 beds looked at; 0 notices; 0 fields cannot be seen")
	}
	assert.Equal(in, mails, len(in.caught.Mails()))
	assert.Equal(in, texts, len(in.caught.Texts()))
}

func TestFlagstaffInFebruary(t *testing.T) {
	t.Parallel()
	o, url := open(t, map[string][]byte{
		"/points/35.198,-111.651": document(t, "points_35.198_-111.651_FGZ.json"),
		"/gridpoints/FGZ/74,89":   document(t, "gridpoint_raw_FGZ_74_89_20240220.json"),
		"/alerts/active":          []byte(noAlerts),
	})
	in := install(t, url, "", time.Date(2024, 2, 20, 17, 13, 54, 0, time.UTC), "")
	in.enrol()
	p := in.serve()
	beds := judged(p, plant(p, 35.198, -111.651, "America/Phoenix", "2023-08-15"))
	mails, texts := delivered(p)
	in.tell(beds)
	t.Logf("%d notices, %d mails, %d texts", len(notices(p)), mails, texts)

	in.filled()
	assert.Equal(t, 1, o.count("/gridpoints/FGZ/74,89"), "asked once, whatever is registered meanwhile")
	for crop, b := range beds {
		assert.Regexp(t, `\b6 h of .*guess`, b.Verdict.Reason, "%s: how little is known is said", crop)
		assert.Equal(t, time.Date(2024, 2, 20, 17, 13, 54, 0, time.UTC), b.Verdict.Issued.UTC(), crop)
	}
	assert.Equal(t, 0, p.stop(), p.log.String())
	quietAfter(in, mails, texts)
}

func TestMinneapolisInJanuary(t *testing.T) {
	t.Parallel()
	point := []byte(`{"id":"https://api.weather.gov/points/44.98,-93.26","type":"Feature","geometry":{"type":"Point","coordinates":[-93.26,44.98]},
"properties":{"@id":"https://api.weather.gov/points/44.98,-93.26","@type":"wx:Point","cwa":"MPX","gridId":"MPX","gridX":108,"gridY":72,
"forecastOffice":"https://api.weather.gov/offices/MPX","forecast":"https://api.weather.gov/gridpoints/MPX/108,72/forecast",
"forecastHourly":"https://api.weather.gov/gridpoints/MPX/108,72/forecast/hourly","forecastGridData":"https://api.weather.gov/gridpoints/MPX/108,72",
"observationStations":"https://api.weather.gov/gridpoints/MPX/108,72/stations","forecastZone":"https://api.weather.gov/zones/forecast/MNZ060",
"county":"https://api.weather.gov/zones/county/MNC053","fireWeatherZone":"https://api.weather.gov/zones/fire/MNZ060","timeZone":"America/Chicago","radarStation":"KMPX"}}`)
	o, url := open(t, map[string][]byte{
		"/points/44.98,-93.26":   point,
		"/gridpoints/MPX/108,72": document(t, "gridpoint_raw_MPX_108_72_20240111.json"),
		"/alerts/active":         []byte(noAlerts),
	})
	in := install(t, url, "", time.Date(2024, 1, 11, 17, 12, 50, 0, time.UTC), "")
	in.enrol()
	p := in.serve()
	beds := judged(p, plant(p, 44.98, -93.26, "America/Chicago", "2023-08-01"))
	mails, texts := delivered(p)
	in.tell(beds)
	t.Logf("%d notices, %d mails, %d texts", len(notices(p)), mails, texts)

	in.filled()
	assert.Contains(t, p.log.String(), "THE FORECAST MAY BE FOR ANOTHER PLACE", "its outline does not hold the field, and that is said")
	assert.LessOrEqual(t, o.count("/points/44.98,-93.26"), 2, "resolved again once")
	for _, crop := range []string{"lettuce-head", "chard", "kale-curly", "leek-summer"} {
		assert.Contains(t, []string{"harvest_before", "too_late"}, beds[crop].Verdict.State, "%s at -23.9 °C", crop)
		nights := beds[crop].Verdict.Nights
		require.NotEmpty(t, nights, crop)
		assert.Greater(t, nights[len(nights)-1].Likelihood, 0.9, "%s: by the end of the forecast", crop)
	}
	assert.Positive(t, mails)
	assert.Positive(t, texts)
	assert.Equal(t, 0, p.stop(), p.log.String())
	quietAfter(in, mails, texts)
}
