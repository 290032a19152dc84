package round_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
	"winterstand/internal/service/round"
	"winterstand/internal/store"
)

// warned is a sky whose service has official warnings too.
type warned struct {
	*sky
	asked int
	list  []forecast.Alert
	err   error
}

func (w *warned) Alerts(context.Context, forecast.Point) ([]forecast.Alert, error) {
	w.asked++
	return w.list, w.err
}

// Official warnings are asked for every ten minutes, repeated for three hours when
// that fails, and left out when they have ended.
func TestOfficialWarningsAreAskedForAndKept(t *testing.T) {
	b := newFieldBench(t)
	w := &warned{sky: b.sky}
	b.runner.Sources = []forecast.Source{w}
	begin := b.clock
	w.list = []forecast.Alert{{Event: "Freeze Warning", Office: "an office", Ends: begin.Add(9 * time.Hour)}, {Event: "Frost Advisory", Ends: begin.Add(30 * time.Minute)}, {Event: "Wind Advisory"}}
	in := func(d time.Duration) (events []string, asked time.Time) {
		b.clock = begin.Add(d)
		_, err := b.runner.Round(t.Context())
		require.NoError(t, err)
		fields, err := b.store.Fields(t.Context(), b.farm, store.Page{})
		require.NoError(t, err)
		alerts, asked, err := round.Alerts(t.Context(), b.store, fields[0].CellID, b.clock)
		require.NoError(t, err)
		for _, a := range alerts {
			events = append(events, a.Event)
		}
		return events, asked
	}
	events, asked := in(0)
	assert.Equal(t, []string{"Freeze Warning", "Frost Advisory", "Wind Advisory"}, events)
	assert.True(t, asked.Equal(begin))
	_, asked = in(9 * time.Minute)
	assert.True(t, asked.Equal(begin), "not again within ten minutes")
	assert.Equal(t, 1, w.asked)
	_, asked = in(10 * time.Minute)
	assert.True(t, asked.Equal(begin.Add(10*time.Minute)))
	assert.Equal(t, 2, w.asked)
	events, _ = in(30 * time.Minute)
	assert.Equal(t, []string{"Freeze Warning", "Wind Advisory"}, events, "one has ended; one without an end goes on")

	w.list, w.err = nil, errors.New("the service is down")
	events, asked = in(2 * time.Hour)
	assert.Equal(t, []string{"Freeze Warning", "Wind Advisory"}, events, "nobody has called them off")
	assert.True(t, asked.Equal(begin.Add(30*time.Minute)))
	w.list = []forecast.Alert{{Event: "Freeze Warning"}}
	events, asked = in(3 * time.Hour)
	assert.Equal(t, []string{"Freeze Warning"}, events, "what can be read counts")
	assert.True(t, asked.Equal(begin.Add(3*time.Hour)))
	w.list, w.err = nil, nil
	events, _ = in(4 * time.Hour)
	assert.Empty(t, events, "called off")
}

func TestAWarningThatHasEndedIsNotInForce(t *testing.T) {
	b := newFieldBench(t)
	alerts, asked, err := round.Alerts(t.Context(), b.store, 99, b.clock)
	require.NoError(t, err)
	assert.Empty(t, alerts)
	assert.True(t, asked.IsZero(), "never asked")
	require.NoError(t, b.store.Write(t.Context(), func(tx store.Writer) error {
		return tx.SetMemo(t.Context(), "cell:99", round.AlertMemo, []byte(`{"alerts":7}`), b.clock)
	}))
	_, _, err = round.Alerts(t.Context(), b.store, 99, b.clock)
	assert.ErrorContains(t, err, "official warnings of cell 99")
}
