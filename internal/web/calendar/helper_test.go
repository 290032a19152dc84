package calendar

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/trial/npmtest"
	"winterstand/internal/unit"
)

// noon of the farm on a Monday, and a deadline on the Thursday after.
var (
	noon     = time.Date(2026, 11, 16, 18, 0, 0, 0, time.UTC)
	thursday = time.Date(2026, 11, 19, 22, 0, 0, 0, time.UTC)
)

const zoneName = "America/Chicago"

// paper is a book of one farm, kept in memory.
type paper struct {
	*testing.T
	owner   farm.Farm
	notices []store.Notice // as told
	answers []farm.Answer
	bed     farm.Bed
	lot     farm.Lot
}

func newPaper(t *testing.T) *paper {
	owner := farm.New("Hill Farm", noon.AddDate(-1, 0, 0))
	owner.ID, owner.TimeZone, owner.CalendarSecret = 1, zoneName, "0123456789abcdef0123456789abcdef"
	return &paper{T: t, owner: owner, bed: farm.Bed{ID: 7, FarmID: 1, FieldID: 3, Name: "A1"}, lot: farm.Lot{ID: 4, FarmID: 1}}
}

func (p *paper) FarmByCalendar(_ context.Context, secret string) (farm.Farm, error) {
	if secret != p.owner.CalendarSecret {
		return farm.Farm{}, store.ErrNotFound
	}
	return p.owner, nil
}

func (p *paper) Notices(_ context.Context, farmID int64, f store.NoticeFilter) ([]store.Notice, error) {
	require.Equal(p, p.owner.ID, farmID)
	var out []store.Notice
	for _, n := range p.notices {
		if !n.IssuedAt.Before(f.From) {
			out = append(out, n)
		}
	}
	slices.Reverse(out)
	return out, nil
}

func (p *paper) Answers(_ context.Context, _, noticeID int64) ([]farm.Answer, error) {
	var out []farm.Answer
	for _, a := range p.answers {
		if a.NoticeID == noticeID {
			out = append(out, a)
		}
	}
	return out, nil
}

func (p *paper) Bed(context.Context, int64, int64) (farm.Bed, error) { return p.bed, nil }
func (p *paper) Lot(context.Context, int64, int64) (farm.Lot, error) { return p.lot, nil }

// tell writes a notice; change shapes its facts.
func (p *paper) tell(kind string, at time.Time, by unit.Maybe[time.Time], change ...func(*notice.Facts)) store.Notice {
	p.Helper()
	v := verdictOf(at, by)
	f := notice.Facts{Kind: kind, Farm: p.owner.Name, Field: "Upper terrace", Bed: p.bed.Name, BedID: p.bed.ID, Crop: "chard",
		Titles: map[string]string{"en": "chard", "es": "acelga"}, Zone: zoneName, Night: "2026-11-19", Verdict: &v}
	n := store.Notice{ID: int64(len(p.notices) + 1), FarmID: 1, Subject: "bed:7", BedID: 7, FieldID: 3, Kind: kind, Night: f.Night, IssuedAt: at, HarvestBefore: by}
	for _, c := range change {
		c(&f)
	}
	body, err := json.Marshal(f)
	require.NoError(p, err)
	n.Facts = body
	p.notices = append(p.notices, n)
	return n
}

// about gives a notice another subject.
func (p *paper) about(subject string, night farm.Day) {
	n := &p.notices[len(p.notices)-1]
	n.Subject, n.BedID, n.Night = subject, 0, night
}

func (p *paper) answer(noticeID int64, answer string, at time.Time, kg ...float64) {
	a := farm.Answer{ID: int64(len(p.answers) + 1), NoticeID: noticeID, Answer: answer, At: at}
	if len(kg) > 0 {
		a.HarvestedKg = unit.Some(kg[0])
	}
	p.answers = append(p.answers, a)
	p.notices[noticeID-1].Answer, p.notices[noticeID-1].AnsweredAt = answer, unit.Some(at)
}

func verdictOf(at time.Time, by unit.Maybe[time.Time]) farm.Verdict {
	v := farm.Verdict{State: farm.TooLate, AsOf: at, Organ: "leaf", Cause: farm.LeafFreeze, Night: "2026-11-19",
		HarvestBefore: by, Likelihood: unit.Some(0.72), LossShare: 0.2, CostLoss: 0.2, AirLow: unit.Some(unit.Celsius(-13)),
		AirLowP10: unit.Some(unit.Celsius(-16)), TissueLow: unit.Some(unit.Celsius(-14)), Tolerance: unit.Some(unit.Celsius(-7)),
		Cover: "none", Members: 51, Forecast: farm.Basis{Source: "nws", Place: "DMO 10,20", Issued: at.Add(-2 * time.Hour), Credit: "US National Weather Service"}}
	if t, ok := by.Get(); ok {
		v.State = farm.HarvestBefore
		v.LastWindow = unit.Some(farm.Window{Start: t.Add(-6 * time.Hour), End: t})
	}
	return v
}

func (p *paper) feed(now time.Time) Feed {
	return Feed{Book: p, Phrases: phrase.MustLoad(), PublicURL: "https://farm.test/", Now: func() time.Time { return now },
		Log: slog.New(slog.NewTextHandler(io.Discard, nil))}
}

func (p *paper) text(now time.Time) string {
	p.Helper()
	b, err := p.feed(now).For(p.Context(), p.owner)
	require.NoError(p, err)
	return string(b)
}

// entry is an event as ical.js reads it.
type entry struct {
	UID, Summary, Description, Location, URL, Status, Transparency string
	Sequence                                                       int
	Start, End, Zone, Stamp, Created, Modified                     string
	Days                                                           bool
	Alarms                                                         []struct {
		Action, Text string
		Seconds      int
	}
}

type parsed struct {
	Properties map[string]string
	Events     []entry
}

// parse reads a calendar with ical.js of the Node registry.
func parse(t *testing.T, text string) parsed {
	t.Helper()
	var out parsed
	npmtest.Run(t, "calendar.mjs", map[string]string{"text": text}, &out)
	return out
}

// only gives the one entry of a calendar.
func (p *paper) only(now time.Time) entry {
	p.Helper()
	got := parse(p.T, p.text(now))
	require.Len(p, got.Events, 1)
	return got.Events[0]
}
