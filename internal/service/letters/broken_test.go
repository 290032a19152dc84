package letters_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/store/storetest"
)

// A letter that could not be written wholly is written on the next day instead:
// nothing of it is in the book before.
func TestALetterIsWrittenWhollyOrLater(t *testing.T) {
	write := map[string]func(*storeBench) error{
		"of the stores":  func(b *storeBench) error { return b.Stored(b.Context()) },
		"a sign of life": func(b *storeBench) error { return b.StillWatching(b.Context()) },
	}
	for name, letter := range write {
		needed := 0
		for _, table := range []string{"farm", "field", "bed", "verdict", "room", "lot", "recipient", "notice", "message", "message_notice", "memo", "once"} {
			b := newStoreBench(t)
			field, err := b.AddField(t.Context(), b.farm, commands.FieldInput{Name: commands.Set("Upper"), Latitude: commands.Set(45.0), Longitude: commands.Set(-93.0)})
			require.NoError(t, err)
			b.judgedBed(field.ID, "A1", time.Hour, 40)
			b.lot(b.room(farm.ColdStore, 1, 0), "beet", "tote", 40)
			b.clock = b.clock.AddDate(0, 0, 249)
			before := storetest.Contents(t, b.store.DB())
			storetest.TableGone(t, b.store.DB(), table, func() { err = letter(b) })
			if err != nil {
				needed++
				assert.ErrorContains(t, err, "no such table", "%s without %s", name, table)
				assert.Equal(t, before, storetest.Contents(t, b.store.DB()), "%s without %s", name, table)
				require.NoError(t, letter(b))
			}
			assert.Len(t, b.told(), 1, "%s without %s", name, table)
		}
		assert.GreaterOrEqual(t, needed, 5, name)
	}
}
