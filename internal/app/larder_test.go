package app_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
)

func (w *world) store(kind string, celsius, capacity float64) farm.Room {
	w.Helper()
	r, err := w.service.Commands.AddRoom(w.Context(), w.farmID, commands.RoomInput{Name: commands.Set("Cellar"), Kind: commands.Set(kind),
		Temperature: commands.Set(celsius), Humidity: commands.Set(0.95), CapacityKg: commands.Set(capacity)})
	require.NoError(w, err)
	return r
}

// read is a GET of the HTTP interface.
func (w *world) read(path string) map[string]any {
	w.Helper()
	handler, err := w.service.Handler()
	require.NoError(w, err)
	made, err := w.service.Commands.MakeToken(w.Context(), "Test Farm", farm.ScopeRead)
	require.NoError(w, err)
	req := httptest.NewRequest(http.MethodGet, path, nil)
	req.Header.Set("Authorization", "Bearer "+made.Token)
	rec := httptest.NewRecorder()
	handler.ServeHTTP(rec, req)
	body, err := io.ReadAll(rec.Body)
	require.NoError(w, err)
	require.Equal(w, 200, rec.Code, string(body))
	var out map[string]any
	require.NoError(w, json.Unmarshal(body, &out))
	return out
}

// The plan stands under a mail of several beds, in its reader's words; a text
// and a mail about one bed go without.
func TestThePlanStandsUnderAMailOfSeveralBeds(t *testing.T) {
	w := newWorld(t, many)
	w.ann()
	w.person(commands.RecipientInput{Name: commands.Set("Bea"), Email: commands.Set("bea@farm.test"), Language: commands.Set("es"), Units: commands.Set("metric")})
	w.store(farm.ColdStore, 1, 60)
	w.bed("A1", "chard", func(in *commands.BedInput) { in.PricePerKg = commands.Set(5.0) })
	w.bed("A2", "chard", func(in *commands.BedInput) { in.PricePerKg = commands.Set(9.0) })
	w.snap()
	w.round()
	mails := w.caught.Mails()
	require.Len(t, mails, 2)
	text := map[string]string{}
	for _, m := range mails {
		text[m.To[0]] = strings.ReplaceAll(m.Text, "\r\n", "\n")
	}
	english, spanish := text["ann@farm.test"], text["bea@farm.test"]
	assert.Contains(t, english, "The plan for all of them, with the crew's hours and the room there is:\n")
	assert.Contains(t, english, "  1. A2 (chard): 106 lb, 4.0 person-hours, into Cellar\n")
	assert.Contains(t, english, "A1 (chard): 88 lb, 200 USD at risk. There is no room for it in a store that suits.", "60 kg of room for 100")
	assert.Contains(t, english, "No crew hours are entered")
	assert.Less(t, strings.Index(english, "Harvest A2"), strings.Index(english, "The plan for all"))
	assert.Contains(t, spanish, "El plan para todos ellos")
	assert.Contains(t, spanish, "  1. A2 (acelga): 48 kg, 4.0 horas de trabajo, a Cellar\n")
	for _, x := range w.caught.Texts() {
		assert.NotContains(t, x.Text, "plan")
	}
}

func TestOneBedNeedsNoPlan(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	w.round()
	require.Len(t, w.caught.Mails(), 1)
	assert.NotContains(t, w.caught.Mails()[0].Text, "The plan for all")
}

// From the notice to the store: a harvest that is answered moves out of the
// supply's beds into its rooms, leaves the plan, fills the room, which is told at
// once, and is told again by the daily look when it should be used.
func TestAHarvestGoesThroughTheBooks(t *testing.T) {
	w := newWorld(t)
	w.ann()
	cellar := w.store(farm.ColdStore, 1, 100)
	w.change(commands.FarmInput{Wanted: commands.Set([]farm.Want{{Crop: "chard", KgPerWeek: 5, From: "2025-11-01", To: "2026-06-30"}})})
	w.bed("A1", "chard")
	w.bed("A2", "chard")
	w.snap()
	notices := ofKind(w.round().Notices, notice.HarvestBefore)
	require.Len(t, notices, 2)
	before := w.read("/v1/supply")
	assert.Equal(t, 100.0, before["totals"].([]any)[0].(map[string]any)["start_kg"])
	assert.Len(t, w.read("/v1/plan")["beds"], 2)

	for _, n := range notices {
		_, err := w.service.Commands.Answer(t.Context(), w.farmID, n.ID, 0, commands.AnswerInput{Answer: commands.Set(farm.Harvested), HarvestedKg: commands.Set(48.0),
			RoomID: commands.Set(cellar.ID), Container: commands.Set("tote")})
		require.NoError(t, err)
	}
	after := w.read("/v1/supply")
	row := after["rows"].([]any)[0].(map[string]any)
	assert.Equal(t, 4.0, row["standing_kg"])
	assert.Equal(t, 96.0, row["stored_kg"])
	assert.Equal(t, 100.0, after["totals"].([]any)[0].(map[string]any)["start_kg"], "not a kilogram more or less")
	store := w.read("/v1/stores")["items"].([]any)[0].(map[string]any)
	assert.Equal(t, 4.0, store["free_kg"])
	assert.Len(t, store["lots"], 2)

	require.NoError(t, w.service.Drain(t.Context()))
	told := ofKind(w.notices(), notice.RoomFull)
	require.Len(t, told, 1)
	assert.Contains(t, w.caught.Mails()[1].Subject, "Cellar is full: 212 lb of 220 lb")

	for range 14 {
		w.clock.Add(24 * time.Hour)
		require.NoError(t, w.service.Scorer.Score(t.Context()))
		require.NoError(t, w.service.Letters.Stored(t.Context()))
		require.NoError(t, w.service.Drain(t.Context()))
	}
	assert.Len(t, ofKind(w.notices(), notice.UseBy), 2, "each lot once")
	assert.Len(t, ofKind(w.notices(), notice.RoomFull), 1)
	assert.Equal(t, 7, int(w.read("/v1/skill")["cases"].(float64))/2, "seven nights ahead of two beds were scored")
}
