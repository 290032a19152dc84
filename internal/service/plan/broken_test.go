package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
	"winterstand/internal/store/storetest"
)

// A reckoning whose book fails it anywhere says so: a plan of half the beds, or a
// supply without the stores, would be taken for the whole.
func TestAReckoningIsWholeOrAnError(t *testing.T) {
	b := newBench(t)
	carrots := b.bed("A1", "carrot", 50, commands.BedInput{})
	b.judge(carrots, due(30, 0.6))
	b.judge(b.bed("A2", "spinach", 50, commands.BedInput{Purpose: commands.Set("overwinter")}), holds())
	cold := b.room(farm.ColdStore, 1, 500)
	_, err := b.AddLot(t.Context(), b.farm, commands.LotInput{RoomID: commands.Set(cold.ID), Crop: commands.Set("carrot"), Kg: commands.Set(60.0),
		HarvestedAt: commands.Set(noon.Add(-24 * time.Hour)), FromBedID: commands.Set(carrots.ID)})
	require.NoError(t, err)
	b.change(commands.FarmInput{Wanted: commands.Set([]farm.Want{{Crop: "carrot", KgPerWeek: 5, From: "2026-11-01", To: "2027-03-01"}})})
	s, err := b.LookBack(t.Context(), b.farm, 0, "hill.csv", winters(2018, 2024))
	require.NoError(t, err)
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error { return s.Keep(t.Context(), tx, b.farm) }))
	ctx, of := t.Context(), b.farm
	reckonings := map[string]func() (any, error){
		"plan":       func() (any, error) { return b.Plan(ctx, of) },
		"stores":     func() (any, error) { return b.Stores(ctx, of) },
		"supply":     func() (any, error) { return b.Supply(ctx, of, false) },
		"lifted":     func() (any, error) { return b.Supply(ctx, of, true) },
		"skill":      func() (any, error) { return b.Skill(ctx, of) },
		"season":     func() (any, error) { return b.Season(ctx, of) },
		"not played": func() (any, error) { return b.NotPlayed(ctx, of, plan.Season{}) },
	}
	whole, failed, fails := map[string]any{}, map[string]int{}, map[string]bool{}
	for name, reckon := range reckonings {
		whole[name], err = reckon()
		require.NoError(t, err, name)
	}
	storetest.EachTableGone(t, b.store.DB(), func(table string) {
		for name, reckon := range reckonings {
			got, err := reckon()
			if err != nil {
				assert.ErrorContains(t, err, "no such table", "%s without %s", name, table)
				failed[table]++
				fails[name+" "+table] = true
				continue
			}
			assert.Equal(t, whole[name], got, "%s without %s", name, table)
		}
	})
	for table, least := range map[string]int{"farm": 4, "field": 3, "bed": 4, "verdict": 3, "room": 4, "lot": 4, "memo": 3, "judgement": 1} {
		assert.GreaterOrEqual(t, failed[table], least, table)
	}
	for _, name := range []string{"stores finding", "stores verdict", "stores room", "stores lot"} {
		assert.True(t, fails[name], "%s: a lot may come from a bed that the frost had hurt", name)
	}
}
