package supply

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// header names every column with its unit.
var header = []string{
	"week_start", "crop", "wanted_kg", "from_standing_kg", "from_regrowth_kg", "from_stored_kg", "short_kg",
	"enough_likelihood", "standing_kg", "stored_kg", "spring_gap",
}

// WriteCSV writes one line for each crop and week, weights to the tenth of a
// kilogram. Where none is wanted the likelihood is empty.
func WriteCSV(w io.Writer, r Result) error {
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return fmt.Errorf("write supply: %w", err)
	}
	for _, row := range r.Rows {
		if err := out.Write(row.cells()); err != nil {
			return fmt.Errorf("write supply: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("write supply: %w", err)
	}
	return nil
}

func (r Row) cells() []string {
	kg := func(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
	enough := ""
	if p, ok := r.Enough.Get(); ok {
		enough = strconv.FormatFloat(p, 'f', 2, 64)
	}
	return []string{
		string(r.Week), r.Crop, kg(r.WantedKg), kg(r.FromStanding), kg(r.FromRegrowth), kg(r.FromStored), kg(r.ShortKg),
		enough, kg(r.StandingKg), kg(r.StoredKg), strconv.FormatBool(r.SpringGap),
	}
}
