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

// Quiet hours over midnight and within a day, their first minute in and their
// last out; on the night the clocks go back they end by the clock.
func TestQuietHours(t *testing.T) {
	overnight, noonRest := farm.Recipient{QuietFrom: "21:30", QuietTo: "06:00"}, farm.Recipient{QuietFrom: "12:00", QuietTo: "13:30"}
	chicago := zone(t, "America/Chicago")
	at := func(day, hour, minute int) time.Time {
		return time.Date(2025, 11, day, hour, minute, 0, 0, chicago)
	}
	for _, c := range []struct {
		to       farm.Recipient
		now, end time.Time // zero: not quiet
	}{
		{overnight, at(14, 21, 29), time.Time{}}, {overnight, at(14, 21, 30), at(15, 6, 0)}, {overnight, at(15, 0, 0), at(15, 6, 0)},
		{overnight, at(15, 5, 59), at(15, 6, 0)}, {overnight, at(15, 6, 0), time.Time{}}, {overnight, at(1, 23, 0), at(2, 6, 0)},
		{noonRest, at(14, 11, 59), time.Time{}}, {noonRest, at(14, 12, 0), at(14, 13, 30)}, {noonRest, at(14, 13, 29), at(14, 13, 30)},
		{noonRest, at(14, 13, 30), time.Time{}}, {noonRest, at(14, 23, 0), time.Time{}},
		{farm.Recipient{}, at(14, 23, 0), time.Time{}}, {farm.Recipient{QuietFrom: "21:30"}, at(14, 23, 0), time.Time{}},
		{farm.Recipient{QuietFrom: "21:30", QuietTo: "21:30"}, at(14, 21, 30), time.Time{}},
	} {
		end, in := QuietEnd(c.to, chicago, c.now)
		assert.Equal(t, !c.end.IsZero(), in, "%s at %s", c.to.QuietFrom, c.now)
		if in {
			assert.Equal(t, c.end.UTC(), end, "%s at %s", c.to.QuietFrom, c.now)
		}
	}
}

// A notice can be read as late as leaves two hours of work before its deadline, and
// one without a deadline where it is not urgent.
func TestHowLateANoticeCanBeRead(t *testing.T) {
	at := func(hour float64) time.Time {
		return time.Date(2025, 11, 15, 0, 0, 0, 0, time.UTC).Add(time.Duration(hour * float64(time.Hour)))
	}
	work := func(from, until float64) []farm.Window { return []farm.Window{{Start: at(from), End: at(until)}} }
	by := func(hour float64, windows []farm.Window) Addressed {
		return Addressed{Notice: store.Notice{Kind: notice.HarvestBefore, HarvestBefore: unit.Some(at(hour))}, Windows: windows}
	}
	for name, c := range map[string]struct {
		n     Addressed
		waits bool
	}{
		"a whole day of work":       {by(16, work(8, 16)), true},
		"two hours":                 {by(16, work(14, 16)), true},
		"an hour and a half":        {by(16, work(14.5, 16)), false},
		"work that begins by night": {by(8, work(2, 8)), true},
		"all of it by night":        {by(6, work(0, 6)), false},
		"a deadline in the window":  {by(9, work(8, 16)), false},
		"two short windows":         {by(16, append(work(8, 9), work(15, 16)...)), true},
		"one after the deadline":    {by(7, work(8, 16)), false},
		"and it takes none away":    {by(8, append(work(6, 8), work(12, 16)...)), true},
		"nothing to do":             {by(16, nil), false},
		"urgent":                    {Addressed{Notice: store.Notice{Kind: notice.Blind}}, false},
		"not urgent":                {Addressed{Notice: store.Notice{Kind: notice.UseBy}}, true},
	} {
		assert.Equal(t, c.waits, c.n.waits(at(6)), name)
	}
}

// The same notices to the same person by the same way have one key, and nothing else has.
func TestKeysOfMessages(t *testing.T) {
	m := store.Message{RecipientID: 1, Channel: store.Email, NoticeIDs: []int64{1, 23}}
	seen := map[string]bool{messageKey(m): true}
	for _, other := range []store.Message{
		{RecipientID: 2, Channel: store.Email, NoticeIDs: []int64{1, 23}}, {RecipientID: 1, Channel: store.SMS, NoticeIDs: []int64{1, 23}},
		{RecipientID: 1, Channel: store.Email, NoticeIDs: []int64{12, 3}}, {RecipientID: 1, Channel: store.Email, NoticeIDs: []int64{1}},
	} {
		assert.False(t, seen[messageKey(other)], "%+v", other)
		seen[messageKey(other)] = true
	}
	m.ID, m.State = 9, store.Sent
	assert.True(t, seen[messageKey(m)], "whatever has become of it")
}
