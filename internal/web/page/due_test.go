package page

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// order of words on a page.
func inOrder(t *testing.T, r reply, words ...string) {
	t.Helper()
	text, at := plain(r.body), 0
	for _, w := range words {
		i := strings.Index(text[at:], w)
		require.GreaterOrEqual(t, i, 0, "%q is missing after %.80q in %.1500s", w, text[max(0, at-40):at], text)
		at += i + len(w)
	}
}

func TestBedsStandInTheOrderOfTheirDeadlines(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	soon, later, stands, hidden, late := w.bed(f, "Soon", "chard", 40), w.bed(f, "Later", "kale-curly", 50), w.bed(f, "Stands", "spinach", 60),
		w.bed(f, "Hidden", "beet", 70), w.bed(f, "Late", "parsley", 80)
	missed := w.endsAt(w.local(15, 16, 0))
	missed.State, missed.HarvestBefore = farm.TooLate, unit.None[time.Time]()
	w.judged(map[int64]farm.Verdict{
		later.ID: w.endsAt(w.local(18, 16, 30)), soon.ID: w.endsAt(w.local(15, 17, 20)), stands.ID: w.holds(), late.ID: missed,
		hidden.ID: {State: farm.Unknown, AsOf: w.now, Missing: []farm.Gap{{What: farm.GapDewPoint, Hours: 30, Of: 48}}, Forecast: w.holds().Forecast},
	})
	r := w.grower().get("/").is(200)
	inOrder(t, r, "Soon must be out before Sun 15 Nov 5:20 pm CST", "2 due, 1 too late, 1 can stand, 1 cannot be seen",
		"1 cannot be seen: North field. Watch the official forecast yourself.", "Must be out",
		"7 h left", "Harvest before Sun 15 Nov 5:20 pm CST", "6 h of it can be worked: today 10:20 am–4:30 pm.", "Soon chard", "7 in 10",
		"78 h left", "Later curly kale", "No harvest hours left", "Late", "Cannot be seen", "Missing: dew point (missing in 30 of the next 48 hours).", "Hidden", "Can stand", "5 °F", "Stands spinach", "Wed 18 Nov leaf 20 °F", "Stands to 15 °F",
		"US National Weather Service", "2 h old", "Weather data: US National Weather Service, public domain")
}

func TestBedsThatShareADeadlineStandTogetherTheLikeliestFirst(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	verdicts := map[int64]farm.Verdict{}
	for i, p := range []float64{0.3, 0.9, 0.5} {
		b := w.bed(f, fmt.Sprintf("B%d", i+1), "chard", 10)
		_, err := w.commands.ChangeBed(w.ctx(), w.farmID, b.ID, unit.None[int64](), commands.BedInput{LiftKgPerHour: commands.Set(5.0)})
		require.NoError(t, err)
		v := w.endsAt(w.local(16, 16, 30))
		v.Likelihood = unit.Some(p)
		verdicts[b.ID] = v
	}
	w.judged(verdicts)
	r := w.grower().get("/").is(200)
	assert.Equal(t, 1, strings.Count(plain(r.body), "Harvest before"))
	inOrder(t, r, "3 beds must be out before Mon 16 Nov 4:30 pm CST", "66 lb to harvest. One person takes about 6 h.", "Night of Mon 16 Nov, air down to 9 °F.", "B2", "B3", "B1")
}

func TestBedsWithOtherHoursAndNightsStayUnderTheirDeadline(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	leaf, root := w.bed(f, "Leaf", "chard", 10), w.bed(f, "Root", "carrot", 10)
	a, b := w.endsAt(w.local(16, 16, 30)), w.endsAt(w.local(16, 16, 30))
	b.Night = "2026-11-17"
	b.Windows = []farm.Window{{Start: w.local(15, 8, 0), End: w.local(15, 17, 0)}, {Start: w.local(16, 7, 0), End: w.local(16, 17, 0)}}
	w.judged(map[int64]farm.Verdict{leaf.ID: a, root.ID: b})
	r := w.grower().get("/").is(200)
	inOrder(t, r, "2 beds must be out before Mon 16 Nov 4:30 pm CST", "30 h left", "13 to 16 h of it can be worked, by the bed: today 10:20 am–5:00 pm; tomorrow 7:00 am–4:30 pm.",
		"Night of Mon 16 Nov", "Leaf chard", "13 h to work it", "Night of Tue 17 Nov", "Root carrot", "16 h to work it")
	assert.Equal(t, 1, strings.Count(plain(r.body), "h left"))
}

func TestWindowsThatMeetAreOne(t *testing.T) {
	at := func(h int) time.Time { return noon.Add(time.Duration(h) * time.Hour) }
	got := joined([]farm.Window{{Start: at(5), End: at(7)}, {Start: at(0), End: at(3)}, {Start: at(2), End: at(4)}, {Start: at(4), End: at(5)}, {Start: at(9), End: at(10)}})
	assert.Equal(t, []farm.Window{{Start: at(0), End: at(7)}, {Start: at(9), End: at(10)}}, got)
	assert.Empty(t, joined(nil))
}

func TestAnOldForecastIsNeverGoodNews(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	b := w.bed(f, "B1", "chard", 40)
	w.judged(map[int64]farm.Verdict{b.ID: w.holds()})
	g := w.grower()
	g.get("/").says("Nothing has to come out in the days that can be seen").silent("cannot be seen")
	w.now = noon.Add(23 * time.Hour) // the farm bears 24 h; this one was issued 95 minutes before noon
	g.get("/").is(200).says("B1 cannot be seen", "too old to trust", "Watch the official forecast yourself")
	g.get(fmt.Sprintf("/beds/%d", b.ID)).is(200).says("Cannot be seen", "too old to trust").silent("It can stand")
	g.get("/fields").says("Cannot be seen").silent("It can stand")
}

func TestABedNobodyHasJudgedIsToldLoudly(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	g := w.grower()
	g.get("/").says("B1 cannot be seen", "Not judged yet")
	g.get(fmt.Sprintf("/beds/%d", b.ID)).says("Not judged yet")
}

func TestADeadlineThatHasPassedIsNotShownAsTimeLeft(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	b := w.bed(f, "B1", "chard", 40)
	w.judged(map[int64]farm.Verdict{b.ID: w.endsAt(w.local(15, 16, 30))})
	w.now = w.local(15, 17, 0)
	w.grower().get("/").says("B1 has no harvest hours left").silent("must be out")
}

func TestTheStripShowsTheHoursOfWork(t *testing.T) {
	w := newWorld(t)
	now, by := w.local(15, 12, 0), w.local(16, 12, 0)
	svg := string(hoursRule(now, by, w.zone, []farm.Window{{Start: w.local(15, 12, 0), End: w.local(15, 18, 0)}, {Start: w.local(16, 9, 0), End: by}}))
	assert.Contains(t, svg, "M0 5h250v10h-250z", "6 of 24 hours")
	assert.Contains(t, svg, "M875 5h125v10h-125z", "the last 3")
	assert.Contains(t, svg, "M500 13h2v7h-2z", "midnight")
	assert.Empty(t, hoursRule(by, by, w.zone, nil))
}

func TestHoursLeftAreSaidAsPeopleCount(t *testing.T) {
	w := newWorld(t)
	v := w.site.strange(nil, mustRequest())
	for d, want := range map[time.Duration]Left{-time.Hour: {"0", "h"}, 0: {"0", "h"}, 59 * time.Minute: {"59", "min"}, 119 * time.Minute: {"119", "min"},
		2 * time.Hour: {"2", "h"}, 26*time.Hour + 59*time.Minute: {"26", "h"}} {
		assert.Equal(t, want, v.left(d), d.String())
	}
}

func TestCoversGoOnAndOffByTheDay(t *testing.T) {
	const today = farm.Day("2026-11-15")
	tunnel, cloth := farm.Cover{Kind: "low_tunnel", On: "2026-11-01"}, farm.Cover{Kind: "row_cover_light", On: today}
	cases := []struct {
		name   string
		covers []farm.Cover
		kind   string
		want   []farm.Cover
	}{
		{"on a bare bed", nil, "low_tunnel", []farm.Cover{{Kind: "low_tunnel", On: today}}},
		{"another in its place", []farm.Cover{tunnel}, "cold_frame", []farm.Cover{{Kind: "low_tunnel", On: "2026-11-01", Off: today}, {Kind: "cold_frame", On: today}}},
		{"off", []farm.Cover{tunnel}, "none", []farm.Cover{{Kind: "low_tunnel", On: "2026-11-01", Off: today}}},
		{"today's own was a slip", []farm.Cover{cloth}, "none", nil},
		{"planned ones stay", []farm.Cover{{Kind: "cold_frame", On: "2026-12-01"}}, "none", []farm.Cover{{Kind: "cold_frame", On: "2026-12-01"}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := recovered(c.covers, c.kind, today)
			assert.Equal(t, c.want, got)
			assert.Equal(t, c.kind, farm.Bed{Covers: got}.CoverOn(today))
		})
	}
}

func TestSmallThingsAreDoneOnABedsPage(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	g := w.grower()
	at := fmt.Sprintf("/beds/%d", b.ID)
	do := func(what string, pairs ...string) reply {
		t.Helper()
		return g.post(at+what, with(g.get(at).is(200).form(at+what), pairs...))
	}
	bed := func() farm.Bed {
		got, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
		require.NoError(t, err)
		return got
	}
	do("/cover", "cover", "low_tunnel").is(303)
	assert.Equal(t, "low_tunnel", bed().CoverOn("2026-11-15"))
	do("/mulch", "mulch", "4").is(303)
	assert.InDelta(t, 10.16, bed().MulchOn("2026-11-15"), 1e-9)
	do("/harvested", "amount", "100").is(303)
	assert.InDelta(t, 80-45.359237, bed().StandingKg.Else(0), 1e-9)
	before := w.state()
	do("/mulch", "mulch", "deep").is(422).says("Please write a number")
	do("/mulch", "mulch", "99").is(422).says("This could not be taken")
	do("/cover", "cover", "blanket").is(422).says("This could not be taken")
	do("/harvested", "amount", "").is(422).says("Please write a number")
	assert.Equal(t, before, w.state())
	do("/clear").is(303)
	assert.True(t, bed().ClearedAt.Known())
	g.get(at).is(200).says("This bed ended").silent("Done something?")
	g.get("/").silent("B1")
}

func TestWhatIfChangesNothing(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	w.judged(map[int64]farm.Verdict{b.ID: w.endsAt(w.local(16, 16, 30))})
	w.judge.verdict = w.holds()
	w.judge.verdict.Cover = "low_tunnel"
	g := w.grower()
	at := fmt.Sprintf("/beds/%d", b.ID)
	before := w.state()
	g.get(at+"?cover=low_tunnel&mulch=4").is(200).says("With low tunnel: It can stand.", "As it is: Harvest before Mon 16 Nov 4:30 pm CST")
	assert.Equal(t, "low_tunnel", w.judge.cover)
	assert.InDelta(t, 10.16, w.judge.mulch.Else(-1), 1e-9)
	g.get(at + "?cover=&mulch=4").is(200)
	assert.Empty(t, w.judge.cover)
	g.get(at + "?cover=blanket").is(200).says("choose one from the list")
	g.get(at + "?mulch=deep").is(200).says("Please write a number")
	g.get(at + "?mulch=99").is(200).says("from 0 to 23.6 in")
	assert.Equal(t, before, w.state())
}

func TestABlindOutlookIsSaid(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	w.judge.err = blind(farm.Gap{What: farm.GapWind, Hours: 9, Of: 48})
	r := w.grower().get(fmt.Sprintf("/beds/%d?cover=low_tunnel", b.ID)).is(200).says("Nothing can be drawn. Missing: wind (missing in 9 of the next 48 hours).")
	assert.NotContains(t, r.body, `class="picture"`)
}

func TestTheBedsPictureHasATableBehindIt(t *testing.T) {
	w := newWorld(t)
	b, f, _, _ := w.small()
	v := w.endsAt(w.local(16, 16, 30))
	w.judged(map[int64]farm.Verdict{b.ID: v})
	w.judge.verdict = v
	w.told(b, f, "harvest-before", v)
	r := w.grower().get(fmt.Sprintf("/beds/%d", b.ID)).is(200)
	assert.Contains(t, r.body, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 360`)
	assert.Regexp(t, regexp.MustCompile(`<caption>B1, chard`), r.body)
	inOrder(t, r, "30 h left", "Harvest before Mon 16 Nov 4:30 pm CST", "Chance of losing more than 20 %: 7 in 10.", "What would help:", "low tunnel with fabric would carry it through",
		"Hours it can be harvested", "today 10:20 am–4:30 pm", "The coming ten days", "What if?", "What was told", "Harvest before")
}
