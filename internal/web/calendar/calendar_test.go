package calendar

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/unit"
)

var none = unit.None[time.Time]()

func TestADeadlineAsAnotherProgramReadsIt(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	got := parse(t, p.text(noon))
	assert.Equal(t, "2.0", got.Properties["version"])
	assert.Equal(t, "PUBLISH", got.Properties["method"])
	assert.Equal(t, "Hill Farm: harvest before", got.Properties["x-wr-calname"])
	assert.Contains(t, got.Properties["x-wr-caldesc"], "may show this hours late")
	assert.Equal(t, "PT1H", got.Properties["refresh-interval"])
	assert.Equal(t, "PT1H", got.Properties["x-published-ttl"])
	require.Len(t, got.Events, 1)
	e := got.Events[0]
	assert.Equal(t, "2026-11-19T16:00:00.000Z", e.Start, "the last window opens")
	assert.Equal(t, "2026-11-19T22:00:00.000Z", e.End, "the deadline")
	assert.Equal(t, "UTC", e.Zone)
	assert.Equal(t, "Harvest A1 (chard) before Thu 19 Nov 16:00 CST", e.Summary)
	assert.Equal(t, "Upper terrace", e.Location)
	assert.Equal(t, "TRANSPARENT", e.Transparency)
	assert.Equal(t, "CONFIRMED", e.Status)
	assert.Equal(t, "https://farm.test/beds/7", e.URL)
	assert.Equal(t, 0, e.Sequence)
	assert.Equal(t, "2026-11-16T18:00:00.000Z", e.Modified)
	for what, text := range map[string]string{
		"reason": "-13.0 °C", "likelihood": "7 in 10", "age": "(2 h old)", "credit": "Weather data: US National Weather Service",
		"caution": "it never replaces them", "as of": "As told Mon 16 Nov 12:00 CST", "limits": "hours late",
	} {
		assert.Contains(t, e.Description, text, what)
	}
	require.Len(t, e.Alarms, 2)
	for i, seconds := range []int{-12 * 3600, -2 * 3600} {
		assert.Equal(t, "DISPLAY", e.Alarms[i].Action)
		assert.Equal(t, seconds, e.Alarms[i].Seconds)
		assert.Equal(t, e.Summary, e.Alarms[i].Text)
	}
}

func TestAMovedDeadlineIsTheSameEntryLater(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	before := p.only(noon)
	p.tell(notice.Moved, noon.Add(20*time.Hour), unit.Some(thursday.Add(-24*time.Hour)), func(f *notice.Facts) { f.Before = unit.Some(thursday) })
	after := p.only(noon.Add(21 * time.Hour))
	assert.Equal(t, before.UID, after.UID)
	assert.Equal(t, 1, after.Sequence)
	assert.Equal(t, "2026-11-17T14:00:00.000Z", after.Modified)
	assert.Equal(t, before.Created, after.Created)
	assert.Equal(t, "2026-11-18T22:00:00.000Z", after.End)
	assert.Equal(t, "Harvest A1 (chard) before Wed 18 Nov 16:00 CST", after.Summary)
	assert.Contains(t, after.Description, "instead of Thu 19 Nov 16:00 CST")
}

func TestAStandDownCancelsAndStaysAWhile(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	told := p.only(noon)
	down := noon.Add(24 * time.Hour)
	p.tell(notice.StandDown, down, none, func(f *notice.Facts) { f.Before = unit.Some(thursday) })
	for _, later := range []time.Duration{0, 7 * 24 * time.Hour} {
		e := p.only(down.Add(later))
		assert.Equal(t, told.UID, e.UID)
		assert.Equal(t, "CANCELLED", e.Status)
		assert.Equal(t, 1, e.Sequence)
		assert.Equal(t, told.End, e.End)
		assert.Equal(t, "A1 (chard) can stand: the danger has gone", e.Summary)
		assert.Empty(t, e.Alarms)
	}
	assert.Empty(t, parse(t, p.text(thursday.Add(shownFor+time.Hour))).Events)
	p.tell(notice.HarvestBefore, noon.AddDate(0, 0, 9), unit.Some(thursday.AddDate(0, 0, 9)))
	both := parse(t, p.text(noon.AddDate(0, 0, 9))).Events
	require.Len(t, both, 2, "what comes after is another event")
	assert.NotEqual(t, both[0].UID, both[1].UID)
}

func TestAnswers(t *testing.T) {
	at := noon.Add(3 * time.Hour)
	for name, c := range map[string]struct {
		answer   string
		kg       []float64
		cleared  bool
		status   string
		alarms   int
		sequence int
		says     string
	}{
		"all of it":  {farm.Harvested, nil, true, "CANCELLED", 0, 2, "A1 has ended"},
		"some of it": {farm.Harvested, []float64{20}, false, "CONFIRMED", 2, 1, "harvested, 20 kg"},
		"leave it":   {farm.LeaveIt, nil, false, "CONFIRMED", 0, 1, "leave it"},
		"covered":    {farm.Covered, nil, false, "CONFIRMED", 2, 1, "covered"},
		"seen":       {farm.Seen, nil, false, "CONFIRMED", 2, 1, "seen"},
	} {
		t.Run(name, func(t *testing.T) {
			p := newPaper(t)
			n := p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
			p.answer(n.ID, c.answer, at, c.kg...)
			if c.cleared {
				p.bed.ClearedAt = unit.Some(at)
			}
			e := p.only(at)
			assert.Equal(t, c.status, e.Status)
			assert.Len(t, e.Alarms, c.alarms)
			assert.Equal(t, c.sequence, e.Sequence)
			assert.Contains(t, e.Description, c.says)
			assert.Equal(t, "2026-11-16T21:00:00.000Z", e.Modified)
		})
	}
}

// What was stood down stays so when the bed ends afterwards: nothing new is said.
func TestABedThatEndsAfterItsStandDownChangesNothing(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	down := noon.Add(24 * time.Hour)
	p.tell(notice.StandDown, down, none, func(f *notice.Facts) { f.Before = unit.Some(thursday) })
	before := p.only(down)
	p.bed.ClearedAt = unit.Some(down.Add(time.Hour))
	after := p.only(down.Add(2 * time.Hour))
	assert.Equal(t, before.Description, after.Description)
	assert.Equal(t, before.Sequence, after.Sequence)
	assert.Equal(t, before.Modified, after.Modified)
}

func TestABedThatEndsLongAfterItsNightCancelsNothing(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	p.tell(notice.Inspect, thursday.Add(20*time.Hour), none)
	p.bed.ClearedAt = unit.Some(thursday.Add(48 * time.Hour))
	e := p.only(thursday.Add(50 * time.Hour))
	assert.Equal(t, "CONFIRMED", e.Status)
	assert.Equal(t, 0, e.Sequence, "asking for a look changes nothing in a calendar")
}

func TestWithoutAWindowItIsTheDayOfTheNight(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, none)
	e := p.only(noon)
	assert.True(t, e.Days)
	assert.Equal(t, "2026-11-19", e.Start)
	assert.Equal(t, "2026-11-20", e.End, "exclusive")
	assert.Contains(t, e.Summary, "no harvest window left")
	assert.Empty(t, e.Alarms, "there is nothing left to be in time for")
}

func TestALastCallIsTheSameEntry(t *testing.T) {
	p := newPaper(t)
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	p.tell(notice.LastCall, thursday.Add(-8*time.Hour), unit.Some(thursday))
	e := p.only(thursday.Add(-7 * time.Hour))
	assert.Equal(t, "Harvest A1 (chard) before Thu 19 Nov 16:00 CST", e.Summary)
	assert.NotContains(t, e.Description, "nobody has answered")
}

func TestABlindFieldIsSeenInTheCalendar(t *testing.T) {
	p := newPaper(t)
	sight := func(kind string) func(*notice.Facts) {
		return func(f *notice.Facts) {
			f.Kind, f.Bed, f.BedID, f.Verdict = kind, "", 0, nil
			f.Sight = &notice.Sight{Reason: "old", Since: noon, Source: "nws"}
		}
	}
	p.tell(notice.Blind, noon, none, sight(notice.Blind))
	p.about("field:3", "2026-11-16")
	p.tell(notice.Blind, noon.Add(24*time.Hour), none, sight(notice.Blind))
	p.about("field:3", "2026-11-16")
	e := p.only(noon.Add(25 * time.Hour))
	assert.Equal(t, "Upper terrace: I cannot see the weather", e.Summary)
	assert.Equal(t, []any{true, "2026-11-16", "2026-11-18"}, []any{e.Days, e.Start, e.End})
	p.tell(notice.SightAgain, noon.Add(26*time.Hour), none, sight(notice.SightAgain))
	p.about("field:3", "2026-11-16")
	again := p.only(noon.Add(27 * time.Hour))
	assert.Equal(t, e.UID, again.UID)
	assert.Equal(t, 2, again.Sequence)
	assert.Contains(t, again.Description, "Beds are being judged again")
	assert.Empty(t, again.Alarms)
}

func TestALotOnItsLastDay(t *testing.T) {
	p := newPaper(t)
	day := time.Date(2027, 1, 20, 6, 0, 0, 0, time.UTC)
	p.tell(notice.UseBy, noon, none, func(f *notice.Facts) {
		f.Bed, f.BedID, f.Verdict = "", 0, nil
		f.Lot = &notice.LotFacts{ID: 4, Kg: 30, Room: "Root room", UseBy: day, Early: day.AddDate(0, 0, -20), Clock: "ageing"}
	})
	p.about("lot:4", "2026-11-16")
	e := p.only(noon)
	assert.Equal(t, []any{true, "2027-01-20", "2027-01-21"}, []any{e.Days, e.Start, e.End})
	assert.Equal(t, "Root room", e.Location)
	p.lot.EndedAt = unit.Some(noon.Add(time.Hour))
	assert.Equal(t, "CANCELLED", p.only(noon.Add(2*time.Hour)).Status)
}

func TestTheFarmsOwnLanguageAndUnits(t *testing.T) {
	p := newPaper(t)
	p.owner.Language, p.owner.Units = "es", unit.US
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	e := p.only(noon)
	assert.Contains(t, e.Summary, "acelga")
	assert.Contains(t, e.Description, "9 °F")
	assert.NotContains(t, e.Description, "[", "every phrase is there")
}

// A farm whose language only a phrase file knows reads nothing else in its feed.
func TestTheFeedIsSaidByThePhrasesAlone(t *testing.T) {
	p := newPaper(t)
	p.owner.Language = phrasetest.Language
	p.tell(notice.HarvestBefore, noon, unit.Some(thursday))
	f := p.feed(noon)
	f.Phrases = phrasetest.Book(t)
	body, err := f.For(t.Context(), p.owner)
	require.NoError(t, err)
	unfolded := strings.NewReplacer("\r\n ", "", `\n`, " ").Replace(string(body))
	said := 0
	for line := range strings.Lines(unfolded) {
		if name, text, _ := strings.Cut(line, ":"); slices.Contains([]string{"SUMMARY", "DESCRIPTION", "X-WR-CALNAME", "NAME"}, name) {
			said++
			assert.Empty(t, phrasetest.Stray(text, "Hill Farm", "A1", "chard", "US National Weather Service"), line)
		}
	}
	assert.GreaterOrEqual(t, said, 5)
}
