package main

import (
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/trial/rehearsal"
	"winterstand/internal/trial/standin"
	"winterstand/internal/weather"
)

func TestARoundForATimer(t *testing.T) {
	t.Parallel()
	var in *installation
	clock := standin.NewClock(rehearsal.Eve)
	var down atomic.Bool
	pass := func(d time.Duration) {
		in.now = in.now.Add(d)
		clock.Set(in.now)
	}
	sky := standin.New(standin.Options{
		Places: []standin.Place{rehearsal.Place()}, Now: clock.Now,
		Forecast: func(_ standin.Place, issued time.Time) []weather.Hour { return rehearsal.Story().Forecast(issued, 182) },
		Past:     func(_ standin.Place, from, to time.Time) []weather.Hour { return rehearsal.Story().Past(from, to) },
	})
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if down.Load() {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		sky.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	in = install(t, server.URL, "", rehearsal.Eve, "")
	r := in.run("round")
	require.Equal(t, 0, r.code, r.err)
	assert.Contains(t, r.out, "0 cells, 0 fields, 0 beds looked at; 0 notices")

	in.enrol()
	p := in.serve()
	p.made("/v1/recipients", `{"name":"Ann","email":"ann@farm.test"}`)
	p.made("/v1/fields", `{"name":"Upper","latitude":46.71,"longitude":-68.32}`)
	p.kill()
	pass(10 * time.Minute)
	p = in.serve()
	p.made("/v1/beds", `{"field_id":1,"name":"A1","crop":"chard","sown_on":"2025-07-01"}`)
	judged(p, map[string]int64{"chard": 1})
	require.Equal(t, 0, p.stop())
	mails := len(in.caught.Mails())

	pass(6 * time.Hour)
	r = in.run("round")
	require.Equal(t, 0, r.code, r.err)
	assert.Contains(t, r.out, "1 cells, 1 fields, 1 beds looked at")
	assert.GreaterOrEqual(t, len(in.caught.Mails()), max(1, mails), "the snap is in the forecast")

	down.Store(true)
	pass(2 * time.Hour)
	r = in.run("round")
	assert.Equal(t, 0, r.code, "what is kept still serves: %s", r.err)
	assert.Contains(t, r.out, "trouble: nws:")
	assert.Contains(t, r.out, "503")
}
