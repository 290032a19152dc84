package weatherfile

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/unit"
)

func TestLows(t *testing.T) {
	got, skipped, err := ReadLows(strings.NewReader("station,issued,morning,lead_days,low_f\nMKE,2024-01-10T18:00:00-06:00,2024-01-12,1,14\nMKE,2024-01-10,2024-01-13,3,23\nMKE,2024-01-10,2024-01-14,4,\n"), "lows.csv")
	require.NoError(t, err)
	assert.Equal(t, 1, skipped)
	require.Len(t, got, 2)
	assert.Equal(t, Low{Station: "MKE", Issued: unit.Some(time.Date(2024, 1, 11, 0, 0, 0, 0, time.UTC)), IssuedOn: "2024-01-10", Morning: "2024-01-12", LeadDays: 1, Low: unit.FromFahrenheit(14)}, got[0])
	assert.False(t, got[1].Issued.Known())
	assert.InDelta(t, -5, float64(got[1].Low), 1e-12)

	metric, _, err := ReadLows(strings.NewReader("morning,low_c,station,lead_days,issued\n2024-01-12,-10,MKE,2,2024-01-10\n"), "lows.csv")
	require.NoError(t, err)
	assert.Equal(t, unit.Celsius(-10), metric[0].Low)
}

func TestLowRefusals(t *testing.T) {
	const head = "station,issued,morning,lead_days,low_f\n"
	for name, c := range map[string]struct{ text, says string }{
		"empty":          {"", "empty"},
		"header alone":   {head, "nothing follows"},
		"unknown column": {"station,issued,morning,lead_days,low\n", `"low"`},
		"both units":     {"station,issued,morning,lead_days,low_f,low_c\n", "one of low_f and low_c"},
		"no unit":        {"station,issued,morning,lead_days\n", "one of low_f and low_c"},
		"no station":     {head + ",2024-01-10,2024-01-12,2,14\n", "line 2, column station"},
		"issued":         {head + "MKE,yesterday,2024-01-12,2,14\n", "column issued"},
		"morning":        {head + "MKE,2024-01-10,12/1/2024,2,14\n", "column morning"},
		"lead":           {head + "MKE,2024-01-10,2024-01-12,two,14\n", "column lead_days"},
		"half a day":     {head + "MKE,2024-01-10,2024-01-12,1.5,14\n", "whole days"},
		"lead empty":     {head + "MKE,2024-01-10,2024-01-12,,14\n", "whole days"},
		"do not agree":   {head + "MKE,2024-01-10,2024-01-12,4,14\n", "it is 2"},
		"in the past":    {head + "MKE,2024-01-14,2024-01-12,0,14\n", "it is -2"},
		"impossible low": {head + "MKE,2024-01-10,2024-01-12,2,-200\n", "degrees Fahrenheit between"},
		"NaN":            {head + "MKE,2024-01-10,2024-01-12,2,nan\n", "not a number"},
		"twice":          {head + "MKE,2024-01-10,2024-01-12,2,14\nMKE,2024-01-10,2024-01-12,2,15\n", "line 3: the same forecast"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := ReadLows(strings.NewReader(c.text), "lows.csv")
			assert.ErrorContains(t, err, c.says)
			assert.ErrorContains(t, err, "lows.csv line ")
		})
	}
}
