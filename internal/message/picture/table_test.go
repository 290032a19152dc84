package picture

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

func TestTable(t *testing.T) {
	got := sampleBed().Table()
	assert.Equal(t, "Bed 3, chard · North field: Harvest before Thu 12 Nov, 17:00", got.Caption)
	assert.Equal(t, []string{"Night", "Air low", "Lowest, leaf", "what it stands", "Can be harvested that day", "Snow on the bed"}, got.Head)
	assert.Len(t, got.Rows, 10)
	assert.Equal(t, []string{"Tue 10 Nov", "24 °F", "22 °F", "21 °F", "16:00–17:00", "0 in"}, got.Rows[0])
	assert.Equal(t, []string{"Fri 13 Nov", "7 °F", "5 °F", "20 °F", "no", "0 in"}, got.Rows[3])
	for _, row := range got.Rows {
		assert.Len(t, row, len(got.Head))
	}
}

func TestTableSaysUnknown(t *testing.T) {
	b := sampleBed()
	for i := range b.Hours {
		b.Hours[i].SnowCm, b.Hours[i].Tolerance = unit.None[float64](), some(nan())
	}
	row := b.Table().Rows[0]
	assert.Equal(t, "unknown", row[5])
	assert.Equal(t, "unknown", row[3])
}

func TestTableOfNothing(t *testing.T) {
	got := Bed{Title: "Bed 3"}.Table()
	assert.Empty(t, got.Rows)
	assert.Equal(t, "Bed 3", got.Caption)
}

// A night that was over before the first hour has no row: its low was not seen.
func TestMorningStart(t *testing.T) {
	b := sampleBed()
	b.Hours = b.Hours[17:] // 09:00 on the 11th
	assert.Equal(t, "Wed 11 Nov", b.Table().Rows[0][0])
	b = sampleBed()
	b.Hours = b.Hours[9:] // 01:00 on the 11th
	assert.Equal(t, "Tue 10 Nov", b.Table().Rows[0][0])
}

func TestOrderOfTheHoursDoesNotMatter(t *testing.T) {
	b := sampleBed()
	want := SVG(b)
	for i, j := 0, len(b.Hours)-1; i < j; i, j = i+1, j-1 {
		b.Hours[i], b.Hours[j] = b.Hours[j], b.Hours[i]
	}
	assert.Equal(t, want, SVG(b))
	assert.Equal(t, time.Date(2026, 11, 10, 16, 0, 0, 0, b.Zone), b.Hours[len(b.Hours)-1].At, "the caller's hours stay as they were")
}

func nan() float64 { z := 0.0; return z / z }
