package commands

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// What is entered stands: a day of sowing that lies ahead is a slip. It would
// have had the bed taken for not there yet, and so for safe.
func TestADayOfSowingAheadIsRefused(t *testing.T) {
	b := newBench(t)
	f := b.placed("North field")
	const right = "lies ahead; a bed that is entered stands: give a day up to 2026-11-14, or leave it out"
	refused := func(err error) {
		t.Helper()
		var wrong *Invalid
		require.ErrorAs(t, err, &wrong)
		require.Len(t, wrong.Problems, 1)
		assert.Equal(t, "sown_on", wrong.Problems[0].Field)
		assert.Equal(t, right, wrong.Problems[0].Reason.String())
	}
	_, err := b.AddBed(t.Context(), b.farm, BedInput{FieldID: Set(f.ID), Name: Set("B1"), Crop: Set("chard"), SownOn: Set("2026-11-15")})
	refused(err)
	_, err = b.Import(t.Context(), b.farm, "", []byte("name,crop,field,sown_on\nB1,chard,North field,2027-07-20\n"))
	refused(err)

	bed := b.bed(f, BedInput{SownOn: Set("2026-11-14")}) // today
	_, err = b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{SownOn: Set("2027-07-20")})
	refused(err)

	// A slip that is in the book already keeps nobody from other changes.
	bed.SownOn = unit.Some(farm.Day("2027-07-20"))
	require.NoError(t, b.store.Write(t.Context(), func(w store.Writer) error { return w.UpdateBed(t.Context(), bed) }))
	_, err = b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{StandingKg: Set(10.0)})
	require.NoError(t, err)
	changed, err := b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{SownOn: Clear[string]()})
	require.NoError(t, err)
	assert.False(t, changed.SownOn.Known())
}

// Today is that of the field: in Chicago it is still the 14th.
func TestADayOfSowingIsOfTheFieldsClock(t *testing.T) {
	b := newBench(t)
	b.clock = time.Date(2026, 11, 15, 4, 0, 0, 0, time.UTC)
	_, err := b.AddBed(t.Context(), b.farm, BedInput{FieldID: Set(b.placed("North field").ID), Name: Set("B1"), Crop: Set("chard"), SownOn: Set("2026-11-15")})
	require.ErrorContains(t, err, "2026-11-14")
}
