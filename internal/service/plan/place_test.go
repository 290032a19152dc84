package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// The crew lifts by the clock of the fields, whatever the farm's lists go by; a
// crew that works in two zones by that of the two which the farm keeps, else by
// the first field's.
func TestTheCrewLivesByTheFieldsClock(t *testing.T) {
	for name, x := range map[string]struct {
		farm   string
		second bool
		want   string
	}{
		"not set":                {"", false, "America/Chicago"},
		"UTC":                    {"UTC", false, "America/Chicago"},
		"elsewhere":              {"Europe/Oslo", false, "America/Chicago"},
		"two fields, not set":    {"", true, "America/Chicago"},
		"two fields, the second": {"America/New_York", true, "America/Detroit"},
		"two fields, neither":    {"UTC", true, "America/Chicago"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			zone := commands.Clear[string]()
			if x.farm != "" {
				zone = commands.Set(x.farm)
			}
			b.change(commands.FarmInput{TimeZone: zone, Crew: commands.Set([]farm.Shift{{Day: "tue", From: "12:00", To: "14:00", People: 2}})})
			if x.second {
				_, err := b.AddField(t.Context(), b.farm, commands.FieldInput{Name: commands.Set("East"), Latitude: commands.Set(46.54), Longitude: commands.Set(-87.40)})
				require.NoError(t, err)
			}
			b.judge(b.bed("A1", "carrot", 80, commands.BedInput{}), due(28, 0.5))
			p, err := b.Plan(t.Context(), b.farm)
			require.NoError(t, err)
			assert.Equal(t, x.want, p.Zone.String())
			require.Len(t, p.Turns, 1)
			assert.Equal(t, 12, p.Turns[0].Start.In(p.Zone).Hour())
			assert.Equal(t, "America/Chicago", p.Beds[0].Zone.String(), "its deadline is said in its field's")
		})
	}
}

// A farm that set no zone has that of its first field in what is the whole farm's.
func TestAFarmWithoutAZoneGoesByItsFirstField(t *testing.T) {
	b := newBench(t)
	b.change(commands.FarmInput{TimeZone: commands.Clear[string]()})
	s, err := b.Supply(t.Context(), b.farm, false)
	require.NoError(t, err)
	assert.Equal(t, "America/Chicago", s.Zone.String())
	require.NoError(t, b.RemoveField(t.Context(), b.farm, b.field.ID, unit.None[int64]()))
	s, err = b.Supply(t.Context(), b.farm, false)
	require.NoError(t, err)
	assert.Equal(t, time.UTC, s.Zone)
}
