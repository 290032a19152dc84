package app_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
)

// sentences are the members of an answer that people read.
func sentences(v any, found *[]string) {
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			sentences(x, found)
		}
	case map[string]any:
		for name, x := range v {
			text, ok := x.(string)
			if ok && (name == "reason" || name == "text") {
				*found = append(*found, text)
			}
			if name != "facts" { // values that a reader's language is put to
				sentences(x, found)
			}
		}
	}
}

// A farm whose language only a phrase file knows is told nothing else by the API:
// not why, not in its notices, its plan or the notes on its stores.
func TestTheAPITellsPeopleByThePhrasesAlone(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.bed("A2", "chard", func(in *commands.BedInput) { in.StandingKg = commands.Optional[float64]{} })
	cellar := w.store(farm.Cellar, 9, 100)
	for _, crop := range []string{"carrot", "onion"} {
		_, err := w.service.Commands.AddLot(t.Context(), w.farmID, commands.LotInput{RoomID: commands.Set(cellar.ID), Crop: commands.Set(crop), Kg: commands.Set(30.0),
			HarvestedAt: commands.Set(w.clock.Now())})
		require.NoError(t, err)
	}
	w.service.Phrases = phrasetest.Book(t)
	require.NoError(t, w.service.Book.Write(t.Context(), func(tx store.Writer) error {
		f, err := tx.Farm(t.Context(), w.farmID)
		if err != nil {
			return err
		}
		f.Language = phrasetest.Language
		return tx.UpdateFarm(t.Context(), f)
	}))
	var found []string
	gather := func(paths ...string) {
		for _, path := range paths {
			before := len(found)
			sentences(w.read(path), &found)
			assert.Greater(t, len(found), before, path)
		}
	}
	gather("/v1/beds/1") // not judged yet
	w.snap()
	w.round()
	gather("/v1/beds", "/v1/beds/1/outlook", "/v1/notices", "/v1/plan", "/v1/stores")
	w.front.answer(func(rw http.ResponseWriter, r *http.Request, _ http.Handler) { unavailable(rw, r) })
	w.clock.Add(72 * time.Hour) // blind by now
	w.round()
	gather("/v1/beds/1", "/v1/notices")
	for _, text := range found {
		assert.Empty(t, phrasetest.Stray(text, "A1", "A2", "Long field", "Test Farm", "Ann", "Cellar", "US National Weather Service", "Swiss chard", "Chard", "chard", "Carrot", "carrot", "Bulb onion", "Onion", "onion"), text)
	}
}
