package scene

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
	"winterstand/internal/unit"
)

// An outlook whose book fails it anywhere is an error: without the readings, the
// findings or the hours that were it would be another outlook.
func TestAnOutlookIsWholeOrAnError(t *testing.T) {
	d := newBench(t)
	d.forecast("nws", hourNow, true)
	asked := map[string]func() (any, error){
		"outlook": func() (any, error) { return d.Outlook(t.Context(), d.farm, d.placed) },
		"what if": func() (any, error) {
			return d.WhatIf(t.Context(), d.farm, d.placed, "low_tunnel", unit.Some(5.0))
		},
	}
	whole := map[string]any{}
	for name, ask := range asked {
		var err error
		whole[name], err = ask()
		require.NoError(t, err, name)
	}
	opened, ok := d.Store.Database.(*sqlite.Store)
	require.True(t, ok)
	failed := map[string]int{}
	storetest.EachTableGone(t, opened.DB(), func(table string) {
		for name, ask := range asked {
			got, err := ask()
			if err != nil {
				assert.ErrorContains(t, err, "no such table", "%s without %s", name, table)
				failed[table]++
				continue
			}
			assert.Equal(t, whole[name], got, "%s without %s", name, table)
		}
	})
	for _, table := range []string{"farm", "field", "bed", "cell", "forecast", "hour", "checkpoint", "memo"} {
		assert.Equal(t, 2, failed[table], table)
	}
}
