package rehearsal

import (
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// play plays some days of the story through the whole service.
func play(t testing.TB, from time.Time, days int, step time.Duration) (Summary, []Told) {
	t.Helper()
	stage, err := Raise(t.Context(), Options{Winter: Story(), From: from, Listen: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, stage.Strike()) })
	var told []Told
	p := Player{Stage: stage, Step: step, Until: from.AddDate(0, 0, days), Say: func(x Told) { told = append(told, x) }}
	sum, err := p.Play(t.Context())
	require.NoError(t, err)
	return sum, told
}

func TestAColdSnapIsToldInTimeByBothChannels(t *testing.T) {
	sum, told := play(t, Eve.Add(-24*time.Hour), 5, 6*time.Hour)
	require.NotEmpty(t, told)
	assert.Zero(t, sum.Repeats, "nothing is sent twice")
	assert.Positive(t, sum.Harvested)
	for _, x := range told {
		if x.Kind == "harvest-before" && x.Bed == "A1" {
			assert.Equal(t, []string{"email", "sms"}, x.Channels)
			by, ok := x.HarvestBefore.Get()
			require.True(t, ok)
			assert.True(t, by.After(x.IssuedAt))
			return
		}
	}
	t.Error("nobody was told about the chard")
}

func TestAnOutageIsToldAndItsEndToo(t *testing.T) {
	outage := Story().Outages[0]
	_, told := play(t, outage.From.Add(-12*time.Hour), 4, 6*time.Hour)
	var kinds []string
	for _, x := range told {
		if x.Kind == "blind" || x.Kind == "sight-again" {
			kinds = append(kinds, x.Kind+" "+x.Field)
		}
	}
	assert.Equal(t, []string{"blind Upper terrace", "blind Brook field", "sight-again Upper terrace", "sight-again Brook field"}, kinds)
}

func BenchmarkDayOfRounds(b *testing.B) {
	for b.Loop() {
		sum, _ := play(b, Eve, 1, 6*time.Hour)
		b.ReportMetric(sum.RealSecond/float64(sum.Rounds)*1000, "ms/round")
	}
}
