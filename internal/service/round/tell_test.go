package round

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func TestWhoWantsWhat(t *testing.T) {
	both := farm.Recipient{Email: "a@b.example", Phone: "+16125550101"}
	change := func(do func(*farm.Recipient)) farm.Recipient { r := both; do(&r); return r }
	for _, c := range []struct {
		name    string
		to      farm.Recipient
		channel string
		kind    notice.Kind
		wants   bool
	}{
		{"mail", both, store.Email, notice.HarvestBefore, true},
		{"a text", both, store.SMS, notice.HarvestBefore, true},
		{"a sign of life by mail", both, store.Email, notice.StillWatching, true},
		{"a sign of life is no text", both, store.SMS, notice.StillWatching, false},
		{"no address", change(func(r *farm.Recipient) { r.Email = "" }), store.Email, notice.HarvestBefore, false},
		{"no phone", change(func(r *farm.Recipient) { r.Phone = "" }), store.SMS, notice.HarvestBefore, false},
		{"has sent STOP", change(func(r *farm.Recipient) { r.MutedSMS = true }), store.SMS, notice.HarvestBefore, false},
		{"STOP is of texts", change(func(r *farm.Recipient) { r.MutedSMS = true }), store.Email, notice.HarvestBefore, true},
		{"this kind by mail no more", change(func(r *farm.Recipient) { r.MutedMail = []string{notice.Moved} }), store.Email, notice.Moved, false},
		{"but by text", change(func(r *farm.Recipient) { r.MutedMail = []string{notice.Moved} }), store.SMS, notice.Moved, true},
		{"and other kinds", change(func(r *farm.Recipient) { r.MutedMail = []string{notice.Moved} }), store.Email, notice.HarvestBefore, true},
		{"only some kinds", change(func(r *farm.Recipient) { r.Kinds = []string{notice.Moved} }), store.Email, notice.HarvestBefore, false},
		{"one of those", change(func(r *farm.Recipient) { r.Kinds = []string{notice.Moved} }), store.SMS, notice.Moved, true},
	} {
		assert.Equal(t, c.wants, Wants(c.to, c.channel, c.kind), c.name)
	}
}

// Quiet hours over midnight and within a day, their first minute in and their
// last out; on the night the clocks go back they end by the clock.
func TestQuietHours(t *testing.T) {
	night, noonRest := farm.Recipient{QuietFrom: "21:30", QuietTo: "06:00"}, farm.Recipient{QuietFrom: "12:00", QuietTo: "13:30"}
	at := func(day, hour, minute int) time.Time {
		return time.Date(2025, 11, day, hour, minute, 0, 0, chicagoZone)
	}
	for _, c := range []struct {
		to       farm.Recipient
		now, end time.Time // zero: not quiet
	}{
		{night, at(14, 21, 29), time.Time{}}, {night, at(14, 21, 30), at(15, 6, 0)}, {night, at(15, 0, 0), at(15, 6, 0)},
		{night, at(15, 5, 59), at(15, 6, 0)}, {night, at(15, 6, 0), time.Time{}}, {night, at(1, 23, 0), at(2, 6, 0)},
		{noonRest, at(14, 11, 59), time.Time{}}, {noonRest, at(14, 12, 0), at(14, 13, 30)}, {noonRest, at(14, 13, 29), at(14, 13, 30)},
		{noonRest, at(14, 13, 30), time.Time{}}, {noonRest, at(14, 23, 0), time.Time{}},
		{farm.Recipient{}, at(14, 23, 0), time.Time{}}, {farm.Recipient{QuietFrom: "21:30"}, at(14, 23, 0), time.Time{}},
		{farm.Recipient{QuietFrom: "21:30", QuietTo: "21:30"}, at(14, 21, 30), time.Time{}},
	} {
		end, in := QuietEnd(c.to, chicagoZone, c.now)
		assert.Equal(t, !c.end.IsZero(), in, "%s at %s", c.to.QuietFrom, c.now)
		if in {
			assert.Equal(t, c.end.UTC(), end, "%s at %s", c.to.QuietFrom, c.now)
		}
	}
}

// A notice waits for the morning where two hours of work are left after it, and
// one without a deadline where it is not urgent.
func TestWhatCanWaitUntilMorning(t *testing.T) {
	to := farm.Recipient{QuietFrom: "21:30", QuietTo: "06:00"}
	now, morning := nov(14, 23), nov(15, 6).UTC()
	work := func(from, until time.Time) []farm.Window { return []farm.Window{{Start: from, End: until}} }
	by := func(at time.Time, windows []farm.Window) Addressed {
		return Addressed{Notice: store.Notice{Kind: notice.HarvestBefore, HarvestBefore: unit.Some(at)}, Zone: chicagoZone, Windows: windows}
	}
	for name, c := range map[string]struct {
		n     Addressed
		waits bool
	}{
		"a whole day of work":        {by(nov(15, 16), work(nov(15, 8), nov(15, 16))), true},
		"two hours":                  {by(nov(15, 16), work(nov(15, 14), nov(15, 16))), true},
		"an hour and a half":         {by(nov(15, 16), work(nov(15, 14).Add(30*time.Minute), nov(15, 16))), false},
		"work that begins by night":  {by(nov(15, 8), work(nov(15, 2), nov(15, 8))), true},
		"all of it by night":         {by(nov(15, 6), work(nov(15, 0), nov(15, 6))), false},
		"a deadline in the window":   {by(nov(15, 9), work(nov(15, 8), nov(15, 16))), false},
		"two short windows":          {by(nov(15, 16), append(work(nov(15, 8), nov(15, 9)), work(nov(15, 15), nov(15, 16))...)), true},
		"nothing to do":              {by(nov(15, 16), nil), false},
		"after the deadline":         {by(nov(15, 7), work(nov(15, 8), nov(15, 16))), false},
		"no deadline, urgent":        {Addressed{Notice: store.Notice{Kind: notice.Blind}, Zone: chicagoZone}, false},
		"no deadline and not urgent": {Addressed{Notice: store.Notice{Kind: notice.UseBy}, Zone: chicagoZone}, true},
	} {
		end, waits := quiet(to, c.n, now)
		assert.Equal(t, c.waits, waits, name)
		assert.Equal(t, morning, end, name)
	}
	_, waits := quiet(to, by(nov(15, 16), work(nov(15, 8), nov(15, 16))), nov(14, 12))
	assert.False(t, waits, "it is not quiet")
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
