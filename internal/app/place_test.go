package app_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// page is what a person who signed in by token sees.
func (w *world) page(path string) string {
	w.Helper()
	handler, err := w.service.Handler()
	require.NoError(w, err)
	server := httptest.NewServer(handler)
	defer server.Close()
	jar, err := cookiejar.New(nil)
	require.NoError(w, err)
	client := &http.Client{Jar: jar}
	get := func(path string) string {
		res, err := client.Get(server.URL + path)
		require.NoError(w, err)
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		require.NoError(w, err)
		require.Equal(w, 200, res.StatusCode, string(body))
		return string(body)
	}
	made, err := w.service.Commands.MakeToken(w.Context(), "Test Farm", farm.ScopeWrite)
	require.NoError(w, err)
	secret := regexp.MustCompile(`name="csrf" value="([^"]+)"`).FindStringSubmatch(get("/signin"))
	require.Len(w, secret, 2)
	res, err := client.PostForm(server.URL+"/signin/token", url.Values{"csrf": {secret[1]}, "token": {made.Token}})
	require.NoError(w, err)
	require.NoError(w, res.Body.Close())
	return get(path)
}

// A farm whose own clock is UTC still has its fields where they are: round,
// API, plan, mail and pages say the same clock for one bed.
func TestEverybodySaysTheSameClockForOneBed(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.change(commands.FarmInput{TimeZone: commands.Set("UTC"), Crew: commands.Set(everyDay("08:00", "16:00"))})
	b := w.bed("A1", "chard")
	w.bed("A2", "chard")
	w.snap()
	told := ofKind(w.round().Notices, notice.HarvestBefore)
	require.NotEmpty(t, told)
	by, ok := told[0].HarvestBefore.Get()
	require.True(t, ok)
	clock := by.In(w.sky.zone).Format("3:04 pm CST")

	assert.Equal(t, zoneName, w.facts(told[0]).Zone)
	assert.Contains(t, w.caught.Mails()[0].Text, clock)
	assert.NotContains(t, w.caught.Mails()[0].Text, "UTC")
	bed := w.read("/v1/beds/1")["verdict"].(map[string]any)
	assert.NotContains(t, bed["reason"], "UTC")
	assert.Equal(t, zoneName, w.read("/v1/beds/1/outlook")["time_zone"])
	for _, path := range []string{"/", "/plan"} {
		assert.Contains(t, w.page(path), clock, path)
	}

	plan := w.read("/v1/plan")
	assert.NotContains(t, plan["text"], "UTC")
	windows := plan["windows"].([]any)
	require.NotEmpty(t, windows)
	for _, x := range windows {
		start, err := time.Parse(time.RFC3339, x.(map[string]any)["start"].(string))
		require.NoError(t, err)
		assert.GreaterOrEqual(t, start.In(w.sky.zone).Hour(), 8, "the crew lifts by the field's clock")
		assert.Less(t, start.In(w.sky.zone).Hour(), 16)
	}
	_ = b
}

func everyDay(from, to string) (out []farm.Shift) {
	for _, d := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		out = append(out, farm.Shift{Day: d, From: from, To: to, People: 2})
	}
	return out
}

// Nobody has to say the zone of a field: it is that of its place, and so is the
// name of its night. A source outside the US names none.
func TestANorwegianFieldHasItsOwnNight(t *testing.T) {
	w := newWorld(t)
	made, err := w.service.Commands.MakeToken(t.Context(), "Nordgard", farm.ScopeWrite)
	require.NoError(t, err)
	field, err := w.service.Commands.AddField(t.Context(), made.Farm.ID, commands.FieldInput{Name: commands.Set("Øvre"),
		Latitude: commands.Set(63.43), Longitude: commands.Set(10.40)})
	require.NoError(t, err)
	var cell int64
	require.NoError(t, w.service.Book.Write(t.Context(), func(tx store.Writer) error {
		cell, err = tx.SaveCell(t.Context(), store.Cell{Key: "metno:63.43,10.40", Latitude: 63.43, Longitude: 10.40})
		if err != nil {
			return err
		}
		return tx.PlaceField(t.Context(), field.ID, cell)
	}))
	b, err := w.service.Commands.AddBed(t.Context(), made.Farm.ID, commands.BedInput{FieldID: commands.Set(field.ID), Name: commands.Set("A1"), Crop: commands.Set("chard")})
	require.NoError(t, err)

	// Half past eleven UTC is half past twelve in Norway: the night of the 4th has begun.
	w.clock.Set(time.Date(2025, 11, 4, 11, 30, 0, 0, time.UTC))
	n := store.Notice{FarmID: made.Farm.ID, Subject: "bed:9", BedID: b.ID, FieldID: field.ID, Kind: notice.HarvestBefore, IssuedAt: w.clock.Now(), Facts: json.RawMessage("{}")}
	require.NoError(t, w.service.Book.Write(t.Context(), func(tx store.Writer) error { n.ID, err = tx.AddNotice(t.Context(), n); return err }))
	_, err = w.service.Commands.Answer(t.Context(), made.Farm.ID, n.ID, 0, commands.AnswerInput{Answer: commands.Set(farm.LeaveIt)})
	require.NoError(t, err)
	b, err = w.service.Book.Bed(t.Context(), made.Farm.ID, b.ID)
	require.NoError(t, err)
	assert.Equal(t, unit.Some(time.Date(2025, 11, 5, 11, 0, 0, 0, time.UTC)), b.QuietUntil, "noon after the night of the 4th, in Norway")
}
