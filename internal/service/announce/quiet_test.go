package announce

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// night is a recipient who is not to be woken from nine to six.
var night = farm.Recipient{ID: 1, Email: "ada@hill.example", QuietFrom: "21:00", QuietTo: "06:00"}

func zone(t *testing.T, name string) *time.Location {
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

// Fields in two zones: a message with both leaves when the later quiet hours end,
// whichever notice comes last.
func TestAMessageWaitsForTheLatestEndOfQuietHours(t *testing.T) {
	now := time.Date(2026, 11, 10, 6, 0, 0, 0, time.UTC) // 1 h in New York, midnight in Chicago
	east := Addressed{Notice: store.Notice{Kind: notice.Inspect}, Zone: zone(t, "America/New_York")}
	west := Addressed{Notice: store.Notice{Kind: notice.Inspect}, Zone: zone(t, "America/Chicago")}
	ends := time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)
	for _, ns := range [][]Addressed{{east, west}, {west, east}} {
		assert.Equal(t, ends, leaveAt(night, ns, now))
	}
}

// One that cannot wait takes the others with it; and a deadline is held against
// the hour at which the message would really leave.
func TestAMessageLeavesAtOnceWhereADeadlineWouldBeEaten(t *testing.T) {
	now := time.Date(2026, 11, 10, 6, 0, 0, 0, time.UTC)
	east, west := zone(t, "America/New_York"), zone(t, "America/Chicago")
	look := Addressed{Notice: store.Notice{Kind: notice.Inspect}, Zone: west} // could wait until 12 h UTC
	due := func(by int) Addressed {                                           // quiet hours of its own zone end at 11 h UTC
		end := time.Date(2026, 11, 10, by, 0, 0, 0, time.UTC)
		return Addressed{Zone: east, Windows: []farm.Window{{Start: now, End: end}},
			Notice: store.Notice{Kind: notice.HarvestBefore, HarvestBefore: unit.Some(end)}}
	}
	for by, at := range map[int]int{12: 6, 13: 6, 14: 12, 18: 12} { // two hours of work must be left after 12 h
		for _, ns := range [][]Addressed{{look, due(by)}, {due(by), look}} {
			assert.Equal(t, at, leaveAt(night, ns, now).Hour(), "deadline at %d h", by)
		}
	}
	assert.Equal(t, 11, leaveAt(night, []Addressed{due(13)}, now).Hour(), "alone it waits for the end in its own zone")
	blind := Addressed{Notice: store.Notice{Kind: notice.Blind}, Zone: west}
	assert.Equal(t, now, leaveAt(night, []Addressed{look, blind}, now), "being blind wakes")
	awake := farm.Recipient{Email: "ada@hill.example"}
	assert.Equal(t, now, leaveAt(awake, []Addressed{look}, now))
}

func TestWhoTakesWhat(t *testing.T) {
	both := farm.Recipient{Email: "a@b.example", Phone: "+12075550141"}
	only, stopped, unsubscribed := both, both, both
	only.Kinds = []string{notice.UseBy}
	stopped.MutedSMS = true
	unsubscribed.MutedMail = []string{notice.UseBy}
	for _, c := range []struct {
		to      farm.Recipient
		channel string
		kinds   []string // taken of those below
	}{
		{both, store.Email, []string{notice.HarvestBefore, notice.UseBy, notice.StillWatching}},
		{both, store.SMS, []string{notice.HarvestBefore, notice.UseBy}},
		{only, store.Email, []string{notice.UseBy}},
		{stopped, store.SMS, nil},
		{stopped, store.Email, []string{notice.HarvestBefore, notice.UseBy, notice.StillWatching}},
		{unsubscribed, store.Email, []string{notice.HarvestBefore, notice.StillWatching}},
		{unsubscribed, store.SMS, []string{notice.HarvestBefore, notice.UseBy}},
		{farm.Recipient{Email: "a@b.example"}, store.SMS, nil},
		{farm.Recipient{Phone: "+12075550141"}, store.Email, nil},
	} {
		for _, k := range []string{notice.HarvestBefore, notice.UseBy, notice.StillWatching} {
			assert.Equal(t, slices.Contains(c.kinds, k), Wants(c.to, c.channel, k), "%+v by %s: %s", c.to, c.channel, k)
		}
	}
}
