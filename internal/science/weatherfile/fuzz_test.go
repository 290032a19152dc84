package weatherfile

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

// What every accepted file must keep: order, each once, numbers that are numbers.
func FuzzRead(f *testing.F) {
	f.Add([]byte("time,air_c\n2026-11-14T06:00:00Z,-6.7\n2026-11-14T07:00:00Z,\n"), "w.csv", "")
	f.Add([]byte("date,tmin_c,tmax_c,snow_depth_cm\n2026-11-14,-6.7,1,\n"), "w.csv", "")
	f.Add([]byte("USW00014839,20260101,TMIN,-122,,,S,\n"), "w.csv", "")
	f.Add([]byte("STATION,DATE,TMIN,TMAX,TMIN_ATTRIBUTES\nUSW00014839,2026-01-01,-50,1,\",,S\"\n"), "w.csv", "tenths")
	f.Add([]byte(dly("TMIN", "  -50  S")), "w.dly", "")
	f.Add([]byte("\x1f\x8b\x08\x00"), "w.csv.gz", "")
	f.Fuzz(func(t *testing.T, data []byte, name, units string) {
		got, err := Read(bytes.NewReader(data), name, Options{Units: Units(units)})
		if err != nil {
			return
		}
		require.True(t, len(got.Hours) > 0 != (len(got.Days) > 0), "hours or days, not both, not none")
		for i, h := range got.Hours {
			finite(t, h.Air, h.DewPoint)
			require.True(t, i == 0 || h.At.After(got.Hours[i-1].At))
		}
		for i, d := range got.Days {
			finite(t, d.Min, d.Max)
			require.False(t, inverted(d))
			require.True(t, i == 0 || d.Date > got.Days[i-1].Date)
		}
	})
}

func finite(t *testing.T, values ...unit.Maybe[unit.Celsius]) {
	for _, m := range values {
		v, ok := m.Get()
		require.True(t, !ok || v.Finite() && v >= -80 && v <= 60)
	}
}

func FuzzReadLows(f *testing.F) {
	f.Add([]byte("station,issued,morning,lead_days,low_f\nMKE,2024-01-10T18:00:00-06:00,2024-01-12,1,14\n"))
	f.Add([]byte("station,issued,morning,lead_days,low_c\nMKE,2024-01-10,2024-01-12,2,\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, _, err := ReadLows(bytes.NewReader(data), "lows.csv")
		if err != nil {
			return
		}
		for _, l := range got {
			require.True(t, l.Low.Finite() && l.LeadDays >= 0 && l.LeadDays <= MaxLeadDays && l.Station != "")
		}
	})
}
