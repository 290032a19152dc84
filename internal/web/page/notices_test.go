package page

import (
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// history is three notices about two beds on two days.
func (w *world) history() (b1, b2 farm.Bed, f store.Field, ids []int64) {
	w.Helper()
	b1, f, _, _ = w.small()
	b2 = w.bed(f, "B2", "kale-curly", 40)
	w.now = noon.AddDate(0, 0, -2)
	n1, _ := w.told(b1, f, notice.HarvestBefore, w.endsAt(w.local(14, 16, 30)))
	w.now = noon
	n2, _ := w.told(b1, f, notice.Moved, w.endsAt(w.local(16, 16, 30)))
	n3, _ := w.told(b2, f, notice.HarvestBefore, w.endsAt(w.local(18, 16, 30)))
	return b1, b2, f, []int64{n1.ID, n2.ID, n3.ID}
}

func TestTheHistoryIsFilteredNewestFirst(t *testing.T) {
	w := newWorld(t)
	b1, b2, f, ids := w.history()
	g := w.grower()
	for query, want := range map[string][]int{
		"": {2, 1, 0}, "?bed=" + fmt.Sprint(b1.ID): {1, 0}, "?bed=" + fmt.Sprint(b2.ID): {2}, "?kind=moved": {1}, "?field=" + fmt.Sprint(f.ID): {2, 1, 0},
		"?from=2026-11-14": {2, 1}, "?to=2026-11-13": {0}, "?from=2026-11-13&to=2026-11-13": {0}, "?from=2026-11-16": nil, "?bed=x&field=-3": {2, 1, 0},
	} {
		r := g.get("/notices" + query).is(200)
		var got []int
		for _, part := range strings.Split(r.body, `href="/notices/`)[1:] {
			for i, id := range ids {
				if strings.HasPrefix(part, fmt.Sprintf("%d\"", id)) {
					got = append(got, i)
				}
			}
		}
		assert.Equal(t, want, got, query)
	}
	g.get("/notices?from=2026-11-16").says("No notice fits this.")
	g.get("/notices?from=yesterday").is(200).says("A date, like 2026-11-14.")
}

func TestALongHistoryIsPaged(t *testing.T) {
	w := newWorld(t)
	b, f, _, _ := w.small()
	for i := range noticesOnPage + 5 {
		v := w.endsAt(w.local(16, 16, 30))
		v.Night = farm.Day("2026-01-01").Add(i)
		w.told(b, f, notice.HarvestBefore, v)
	}
	g := w.grower()
	first := g.get("/notices?kind=harvest-before").is(200)
	assert.Equal(t, noticesOnPage, strings.Count(first.body, `<p class="when">`))
	_, after, ok := strings.Cut(first.body, `class="go" href="/notices?`)
	require.True(t, ok)
	query, _, _ := strings.Cut(after, `"`)
	second := g.get("/notices?" + strings.ReplaceAll(query, "&amp;", "&")).is(200)
	assert.Equal(t, 5, strings.Count(second.body, `<p class="when">`))
	assert.NotContains(t, second.body, "after=")
}

func TestANoticeSaysWhatWasKnownWhenItLeft(t *testing.T) {
	w := newWorld(t)
	b, f, ana, _ := w.small()
	n, m := w.told(b, f, notice.HarvestBefore, w.endsAt(w.local(16, 16, 30)), ana)
	w.now = noon.AddDate(0, 0, 3)
	require.NoError(t, w.store.Write(w.ctx(), func(tx store.Writer) error {
		m.State, m.Attempts, m.LastError = store.GivenUp, 6, "550 no such mailbox"
		if err := tx.MarkMessage(w.ctx(), m); err != nil {
			return err
		}
		_, err := tx.AddAnswer(w.ctx(), farm.Answer{FarmID: w.farmID, NoticeID: n.ID, BedID: b.ID, RecipientID: ana.ID, Answer: farm.Seen, At: w.now})
		return err
	}))
	g := w.grower()
	r := g.get(fmt.Sprintf("/notices/%d", n.ID)).is(200)
	inOrder(t, r, "Harvest before", "Sun 15 Nov 10:20 am CST", "Harvest B1 (Chard) before Mon 16 Nov 4:30 pm CST", "What was known when it left",
		"Why it was due", "The deadline is within the time set for telling.", "issued Sun 15 Nov 8:45 am CST (2 h old)", "It stood then 16 °F", "It stands that night 17 °F",
		"Air low at the bed 9 °F", "Likelihood of loss 68 % (7 in 10)", "Acts from 20 %", "Cover no cover", "Told at most before 72 h", "Told again from a move of 6 h", "Standing 176 lb",
		"Answers", "seen: Ana, Wed 18 Nov 10:20 am CST", "Deliveries", "Ana, E-mail: GIVEN UP", "Tries: 6. Last answer: 550 no such mailbox")
}

// A list without dates has no limit, and only a day that is none is spoken of.
func TestDaysOfTheListOfNotices(t *testing.T) {
	w := newWorld(t)
	w.history()
	wrong := (&visit{speaker: phrase.Speaker{Book: phrase.MustLoad(), Language: "en"}}).say("right.day")
	for query, shown := range map[string]bool{"": false, "?from=2026-11-13": false, "?to=2026-11-13": false, "?from=soon": true, "?to=soon": true} {
		r := w.grower().get("/notices" + query).is(200)
		assert.Equal(t, shown, strings.Contains(r.body, wrong), query)
	}
}

// Straw is told where there was any, however little.
func TestStrawIsAmongWhatWasKnown(t *testing.T) {
	v := &visit{speaker: phrase.Speaker{Book: phrase.MustLoad(), Language: "en", Units: unit.Metric, Zone: time.UTC}}
	for cm, want := range map[float64]string{0: "", 1: "1 cm", 20: "20 cm"} {
		told := ""
		for _, f := range v.known(store.Notice{}, notice.Facts{Verdict: &farm.Verdict{MulchCm: cm}}, v.speaker) {
			if f.Term == v.say("known.mulch") {
				told = f.Text
			}
		}
		assert.Equal(t, want, told)
	}
}

func TestTheDownloadIsSIAndNoFormula(t *testing.T) {
	w := newWorld(t)
	_, _, f, ids := w.history()
	odd := w.bed(f, "=1+1", "chard", 10)
	w.told(odd, f, notice.Inspect, w.endsAt(w.local(16, 16, 30)))
	r := w.grower().get("/notices.csv").is(200)
	assert.Equal(t, "text/csv; charset=utf-8", r.header.Get("Content-Type"))
	assert.Contains(t, r.header.Get("Content-Disposition"), "notices.csv")
	rows, err := csv.NewReader(strings.NewReader(r.body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+len(ids)+1)
	assert.Equal(t, csvColumns, rows[0])
	assert.Equal(t, "2026-11-15T16:20:00Z", rows[1][1])
	assert.Equal(t, "2026-11-16T22:30:00Z", rows[1][8])
	assert.Equal(t, "0.680", rows[1][9])
	for _, row := range rows {
		for _, cell := range row {
			assert.NotRegexp(t, `^[=+@-]`, cell)
		}
	}
	filtered := w.grower().get("/notices.csv?kind=moved").is(200)
	assert.Equal(t, 2, strings.Count(filtered.body, "\n"))
}

func TestTextForSpreadsheetsIsHarmless(t *testing.T) { // OWASP, CSV injection: cells that begin with = + - @ tab or return
	for _, s := range []string{"=1+1", "+1", "-1", "@x", "\tx", "\rx"} {
		assert.Equal(t, "'"+s, harmless(s))
	}
	assert.Equal(t, "B1", harmless("B1"))
	assert.Empty(t, harmless(""))
}

func TestHealthSaysHowOldTheForecastIsAndWhatIsStuck(t *testing.T) {
	w := newWorld(t)
	_, f, ana, _ := w.small()
	require.NoError(t, w.store.Write(w.ctx(), func(tx store.Writer) error {
		for source, age := range map[string]time.Duration{"nws": 30 * time.Hour, "metno": 2 * time.Hour} {
			_, err := tx.AddForecast(w.ctx(), store.Forecast{CellID: f.CellID, Source: source, Issued: w.now.Add(-age), Fetched: w.now, Checked: w.now.Add(-20 * time.Minute)})
			if err != nil {
				return err
			}
		}
		_, err := tx.AddNotice(w.ctx(), store.Notice{FarmID: w.farmID, Subject: fmt.Sprintf("field:%d", f.ID), FieldID: f.ID, Kind: notice.Blind, Night: "2026-11-15", IssuedAt: w.now,
			Facts: []byte(`{"kind":"blind","farm":"Hill Farm","field":"North field","zone":"America/Chicago","sight":{"reason":"old","since":"2026-11-15T10:00:00Z","trouble":["nws: 503 Service Unavailable"]}}`)})
		if err != nil {
			return err
		}
		for i, state := range []string{store.Queued, store.Sent, store.Sent, store.GivenUp} {
			m := store.Message{FarmID: w.farmID, RecipientID: ana.ID, Channel: store.Email, Key: fmt.Sprint("k", i), Test: true, State: store.Queued, CreatedAt: w.now, NotBefore: w.now}
			if m.ID, err = tx.AddMessage(w.ctx(), m); err != nil {
				return err
			}
			m.State = state
			if state == store.GivenUp {
				m.Attempts, m.LastError = 7, "550 no such mailbox"
			}
			if err := tx.MarkMessage(w.ctx(), m); err != nil {
				return err
			}
		}
		return nil
	}))
	w.serve(func(o *Options) { o.Channels = []string{store.Email} })
	g := w.grower()
	r := g.get("/health").is(200)
	inOrder(t, r, "North field", "I cannot judge the beds of North field", "nws: 503 Service Unavailable",
		"US National Weather Service TOO OLD: issued Sat 14 Nov 4:20 am CST, 30 h old; asked 20 min ago", "MET Norway issued Sun 15 Nov 8:20 am CST, 2 h old",
		"Official warnings: never asked for this place.", "E-mail set up", "Text message NOT set up", "Waiting 1", "Sent 2", "Given up 1",
		"With trouble", "GIVEN UP", "Tries: 7. Last answer: 550 no such mailbox")
	require.NoError(t, w.store.Write(w.ctx(), func(tx store.Writer) error {
		_, err := tx.AddNotice(w.ctx(), store.Notice{FarmID: w.farmID, Subject: fmt.Sprintf("field:%d", f.ID), FieldID: f.ID, Kind: notice.SightAgain, Night: "2026-11-15", IssuedAt: w.now,
			Facts: []byte(`{"kind":"sight-again","farm":"Hill Farm","field":"North field","zone":"America/Chicago","sight":{"reason":"","since":"2026-11-15T10:00:00Z"}}`)})
		return err
	}))
	g.get("/health").is(200).silent("503 Service Unavailable")
}

func TestWhatWasLearnedIsShownExplainedAndForgotten(t *testing.T) {
	w := newWorld(t)
	w.full()
	g := w.grower()
	r := g.get("/health").is(200).says("clear still nights run 2.2 °F colder than the forecast (from 4 nights)",
		"chard: has stood 2.7 °F more than the book (from 3 nights; give or take 1.4 °F)")
	form := r.form("/health/forget")
	for _, kind := range []string{"bias", "tolerance"} {
		owner := "farm:1/chard/"
		if kind == "bias" {
			owner = "field:2" // the first bed's
		}
		g.post("/health/forget", with(form, "kind", kind, "owner", owner)).is(303)
		_, err := w.store.Memo(w.ctx(), owner, kind)
		assert.ErrorIs(t, err, store.ErrNotFound)
	}
	g.get("/health").says("Nothing yet.")
	for _, bad := range [][2]string{{"alerts", "cell:1"}, {"tolerance", "farm:2/chard/"}, {"tolerance", "farm:11/chard/"}, {"bias", "field:99"}, {"bias", "farm:1/chard/"}, {"", ""}} {
		g.post("/health/forget", with(form, "kind", bad[0], "owner", bad[1])).is(404)
	}
}

func TestOfficialWarningsStandOnTheFirstPage(t *testing.T) {
	w := newWorld(t)
	w.full()
	g := w.grower()
	g.get("/").says("Official warning in force: Freeze Warning until Mon 16 Nov 9:00 am CST, NWS Duluth MN.")
	w.now = w.local(16, 9, 1)
	g.get("/").silent("Freeze Warning")
}

// Every reason to tell something has words; what notices held before reasons had
// names is shown as it stands.
func TestEveryReasonToTellHasWords(t *testing.T) {
	v := newWorld(t).site.strange(nil, mustRequest())
	for _, m := range notice.Moves {
		if m.Sends != "" {
			assert.True(t, v.speaker.Book.Has("why."+string(m.For)), "why.%s", m.For)
		}
	}
	assert.Equal(t, "The loss is likely.", v.reasonSaid(notice.LossLikely))
	assert.Equal(t, "the deadline came nearer by 24h", v.reasonSaid("the deadline came nearer by 24h"))
}
