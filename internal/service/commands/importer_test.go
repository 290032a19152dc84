package commands

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func (b *bench) imported(kind, file string) Imported {
	b.Helper()
	out, err := b.Import(b.Context(), b.farm, kind, []byte(file))
	require.NoError(b, err)
	return out
}

func TestImportBeds(t *testing.T) {
	b := newBench(t)
	f := b.placed("North field")
	out := b.imported("", "\xef\xbb\xbfname, crop ,field,standing_kg,cover,cover_on,mulch_cm,sown_on\r\n"+
		"B1,chard,North field,80,row_cover_light,2026-10-20,0,2026-07-20\r\n\"B2, south\",Kale,North field,,,,,\r\n")
	assert.Equal(t, ImportBeds, out.Kind)
	assert.Equal(t, 2, out.Count)
	beds, err := b.store.Beds(t.Context(), b.farm, store.BedFilter{})
	require.NoError(t, err)
	require.Len(t, beds, 2)
	assert.Equal(t, out.IDs, []int64{beds[0].ID, beds[1].ID})
	assert.Equal(t, unit.Some(80.0), beds[0].StandingKg)
	assert.Equal(t, "row_cover_light", beds[0].CoverOn("2026-11-14"))
	assert.Equal(t, unit.Some(farm.Day("2026-07-20")), beds[0].SownOn)
	assert.Equal(t, "B2, south", beds[1].Name)
	assert.Equal(t, "kale-curly", beds[1].Crop)
	assert.Equal(t, unit.None[float64](), beds[1].StandingKg, "an empty cell is missing, never zero")
	assert.Equal(t, []store.Job{{CellID: f.CellID}}, b.jobs(), "one verdict a field")
}

func TestImportReadings(t *testing.T) {
	b := newBench(t)
	f := b.placed("North")
	out := b.imported("readings", fmt.Sprintf("field_id,at,quantity,value,depth_cm\n%d,2026-11-14T07:00:00-06:00,air_min_c,-6.7,\n%d,2026-11-14T12:00:00Z,soil_c,1.2,5\n", f.ID, f.ID))
	assert.Equal(t, 2, out.Count)
	rs, err := b.store.Readings(t.Context(), b.farm, f.ID, noon.AddDate(0, 0, -2), noon)
	require.NoError(t, err)
	require.Len(t, rs, 2)
	assert.Equal(t, unit.Some(5.0), rs[0].DepthCm)
	assert.Equal(t, -6.7, rs[1].Value)
	assert.Equal(t, []store.Job{{CellID: f.CellID}}, b.jobs())
}

func TestImportLots(t *testing.T) {
	b := newBench(t)
	_, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Set("Cellar"), Kind: Set(farm.Cellar), Temperature: Set(4.0)})
	require.NoError(t, err)
	out := b.imported("", "room,crop,kg,harvested_at,container\nCellar,carrot,120,2026-11-01T15:00:00Z,tote\n")
	assert.Equal(t, ImportLots, out.Kind)
	lot, err := b.store.Lot(t.Context(), b.farm, out.IDs[0])
	require.NoError(t, err)
	assert.Equal(t, 120.0, lot.Kg)
}

// Every wrong line is named with its column, and nothing of the file is stored.
func TestAWrongFileIsToldWholeAndStoresNothing(t *testing.T) {
	b := newBench(t)
	f := b.placed("North")
	b.field("Twin")
	b.field("Twin")
	b.jobs()
	for _, c := range []struct {
		name, kind, file string
		want             []string
	}{
		{"nothing", "", "", []string{"file: is empty"}},
		{"a header alone", "beds", "name,crop,field\n", []string{"file: holds no lines"}},
		{"unknown kind", "cows", "name\nx\n", []string{"kind: must be one of beds, readings, lots"}},
		{"columns of nothing", "", "a,b\n1,2\n", []string{"kind: must be one of"}},
		{"unknown column", "beds", "name,crop,field,colour\nB1,chard,North,red\n", []string{"line 1, colour: is not a column of beds; use field_id"}},
		{"column twice", "beds", "name,crop,field,name\nB1,chard,North,B2\n", []string{"line 1, name: stands twice"}},
		{"broken quotes", "beds", "name,crop,field\n\"B1,chard,North\n", []string{"line 2, line: is not CSV"}},
		{"ragged", "beds", "name,crop,field\nB1,chard\nB2,chard,North,x\n", []string{"line 2, line: has 2 columns; the header names 3", "line 3, line: has 4"}},
		{"many wrong lines", "beds", "name,crop,field,standing_kg,mulch_cm\nB1,chard,North,80,0\n,chard,North,,\nB3,manna,North,,\nB4,chard,Nowhere,,\nB5,chard,North,much,-3\nB6,chard,Twin,NaN,\n",
			[]string{"line 3, name: is missing", "line 4, crop: is not in the catalogue; did you mean", "line 5, field: there is no field called \"Nowhere\"",
				"line 6, standing_kg: \"much\" must be a number", "line 6, mulch_cm: must be from 0 to 60 cm",
				"line 7, field: 2 entries are called \"Twin\"", "line 7, standing_kg: is not a number"}},
		{"cover without a day", "beds", "name,crop,field,cover\nB1,chard,North,low_tunnel\n", []string{"line 2, cover_on: must be a calendar date"}},
		{"readings", "readings", fmt.Sprintf("field_id,at,quantity,value\n%d,2026-11-14 07:00,air_c,1\n%d,2026-11-14T07:00:00Z,air_c,inf\nx,2026-11-14T07:00:00Z,air_c,1\n99,2026-11-14T07:00:00Z,air_c,\n", f.ID, f.ID),
			[]string{"line 2, at: \"2026-11-14 07:00\" must be a time with its zone", "line 3, value: is not a number", "line 4, field_id: \"x\"",
				"line 5, value: is missing", "line 5, field_id: there is no field 99"}},
		{"lots", "lots", "room,crop,kg,harvested_at\nCellar,carrot,0,2026-11-01T15:00:00Z\n", []string{"line 2, room: there is no room called", "line 2, kg: must be more than 0"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := b.Import(t.Context(), b.farm, c.kind, []byte(c.file))
			var invalid *Invalid
			require.ErrorAs(t, err, &invalid)
			for _, want := range c.want {
				assert.Contains(t, err.Error(), want)
			}
			assert.Len(t, invalid.Problems, len(c.want), err.Error())
			beds, err := b.store.Beds(t.Context(), b.farm, store.BedFilter{Cleared: true})
			require.NoError(t, err)
			assert.Empty(t, beds)
			assert.Empty(t, b.jobs())
		})
	}
}

func TestAFileIsBounded(t *testing.T) {
	_, err := readTable([]byte("name\n" + strings.Repeat("x\n", MaxImportLines+1)))
	assert.Contains(t, problems(t, err)["file"], "at most 20000")
}

// Whatever the bytes, the reader gives a table that keeps its promises or says
// what is wrong.
func FuzzReadTable(f *testing.F) {
	for _, seed := range []string{"", "a,b\n1,2\n", "\"", "a\n\"x\ny\"\n", "a,a\n,\n", "\xef\xbb\xbfa\r\n1\r\n", "a,b\n1\n"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		table, err := readTable(file)
		if err != nil {
			problems(t, err)
			return
		}
		assert.NotEmpty(t, table.rows)
		last := 1
		for _, r := range table.rows {
			assert.Greater(t, r.line, last-1)
			last = r.line
			for name, v := range r.cells {
				assert.Contains(t, table.header, name)
				assert.NotEmpty(t, v)
			}
			if utf8.Valid(file) {
				var c check
				names{}.bed(&c, r)
				names{}.reading(&c, r)
				names{}.lot(&c, r)
			}
		}
	})
}

// Fields are asked to be judged in the order of their numbers, whatever that of the
// file: two files at once would else wait for each other.
func TestAnImportAsksForItsFieldsInOrder(t *testing.T) {
	b := newBench(t)
	var cells []int64
	for _, name := range []string{"One", "Two", "Three"} {
		cells = append(cells, b.placed(name).CellID)
	}
	var asked []int64
	b.store.Attach(func(_ context.Context, _ *sql.Tx, jobs []store.Job) error {
		for _, j := range jobs {
			asked = append(asked, j.CellID)
		}
		return nil
	})
	_, err := b.Import(t.Context(), b.farm, "beds", []byte("name,crop,field\nB1,chard,Three\nB2,chard,One\nB3,chard,Two\nB4,chard,One\n"))
	require.NoError(t, err)
	assert.Equal(t, cells, asked)
}
