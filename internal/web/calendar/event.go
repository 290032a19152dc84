package calendar

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
)

// shortEntry is how long before its deadline an entry begins when no last
// window is known; own default.
const shortEntry = time.Hour

// Alarms: half a day before the last window opens, to plan, and at the time of
// the last call. Own defaults.
var alarms = []time.Duration{12 * time.Hour, 2 * time.Hour}

// harvest is an entry from the opening of the last window to the deadline.
func (d *scribe) harvest(ctx context.Context, s strand) (Event, error) {
	e := d.base(s)
	told := s.told()
	f, speaker, err := d.facts(told)
	if err != nil {
		return e, err
	}
	e.Location, e.Alarms = f.Field, alarms
	e.span(f, told)
	if d.public != "" {
		e.Link = fmt.Sprintf("%s/beds/%d", d.public, f.BedID)
	}
	if err := d.words(&e, s, f, speaker); err != nil {
		return e, err
	}
	return e, d.settle(ctx, &e, s, speaker)
}

// told is the last notice that says by when, or that it is too late.
func (s strand) told() store.Notice {
	for i := len(s.notices) - 1; i > 0; i-- {
		if s.notices[i].Kind != notice.StandDown {
			return s.notices[i]
		}
	}
	return s.first()
}

// span: without a deadline, because no window is left, it is the day on whose
// evening the night begins.
func (e *Event) span(f notice.Facts, n store.Notice) {
	by, ok := n.HarvestBefore.Get()
	if !ok {
		e.days(n.Night, n.Night)
		e.Alarms = nil
		return
	}
	e.Start, e.End = by.Add(-shortEntry), by
	if f.Verdict == nil {
		return
	}
	if w, ok := f.Verdict.LastWindow.Get(); ok && w.Start.Before(by) && !w.End.After(by) {
		e.Start = w.Start
	}
}

// words of an entry: what was told last, as of the moment it was told.
func (d *scribe) words(e *Event, s strand, f notice.Facts, speaker phrase.Speaker) error {
	told := s.told()
	if f.Kind == notice.LastCall {
		f.Kind = notice.HarvestBefore // the last window is the entry itself
	}
	line := notice.Words(speaker, f, told.IssuedAt)
	e.Description = append(line.Body, speaker.Say("calendar.told", phrase.Args{"when": speaker.When(told.IssuedAt)}))
	e.Description = append(e.Description, notice.Cautions(speaker, []notice.Facts{f})...)
	if f.Verdict != nil && f.Verdict.Forecast.Credit != "" {
		e.Description = append(e.Description, speaker.Say("body.credit", phrase.Args{"credit": f.Verdict.Forecast.Credit}))
	}
	e.Description = append(e.Description, speaker.Say("calendar.late", nil))
	f.Kind = notice.HarvestBefore // "before …", however often it has moved
	e.Summary = notice.Words(speaker, f, told.IssuedAt).Subject
	if end := s.last(); end.Kind == notice.StandDown {
		return d.standDown(e, end)
	}
	return nil
}

func (d *scribe) standDown(e *Event, n store.Notice) error {
	f, speaker, err := d.facts(n)
	if err != nil {
		return err
	}
	line := notice.Words(speaker, f, n.IssuedAt)
	e.Summary, e.Description = line.Subject, append(line.Body[:1:1], e.Description...)
	e.cancel()
	return nil
}

func (e *Event) cancel() { e.Cancelled, e.Alarms = true, nil }

// settle brings in what people have answered, and that the bed has ended.
func (d *scribe) settle(ctx context.Context, e *Event, s strand, speaker phrase.Speaker) error {
	last, err := d.answers(ctx, e, s)
	if err != nil {
		return err
	}
	if last.Answer != "" {
		e.Description = append([]string{answerWords(speaker, last)}, e.Description...)
	}
	if last.Answer == farm.LeaveIt {
		e.Alarms = nil
	}
	bed, err := d.book.Bed(ctx, d.owner.ID, s.first().BedID)
	if gone(err) {
		e.cancel()
		return nil
	}
	if err != nil {
		return err
	}
	ended, ok := bed.ClearedAt.Get()
	if ok && !e.Cancelled && (last.Answer == farm.Harvested || !ended.After(e.End)) {
		e.cancel()
		e.change(ended)
		e.Description = append([]string{speaker.Say("calendar.ended", phrase.Args{"bed": bed.Name})}, e.Description...)
	}
	return nil
}

// answers counts what was answered to the notices of a strand and gives the last.
func (d *scribe) answers(ctx context.Context, e *Event, s strand) (farm.Answer, error) {
	var last farm.Answer
	for _, n := range s.notices {
		if n.Answer == "" {
			continue
		}
		given, err := d.book.Answers(ctx, d.owner.ID, n.ID)
		if err != nil {
			return last, err
		}
		for _, a := range given {
			e.change(a.At)
			if a.ID > last.ID {
				last = a
			}
		}
	}
	return last, nil
}

func answerWords(s phrase.Speaker, a farm.Answer) string {
	text := s.Say("reply."+a.Answer, nil)
	if kg, ok := a.HarvestedKg.Get(); ok {
		text += ", " + s.Units.Mass(kg)
	}
	return s.Say("answer.before", phrase.Args{"answer": text})
}

// blind is an entry for the days on which a field could not be seen: an empty
// calendar must not look as if all were well.
func (d *scribe) blind(ctx context.Context, s strand) (Event, error) {
	e := d.base(s)
	told := s.last()
	if s.closed && len(s.notices) > 1 {
		told = s.notices[len(s.notices)-2]
	}
	f, speaker, err := d.facts(told)
	if err != nil {
		return e, err
	}
	line := notice.Words(speaker, f, told.IssuedAt)
	e.Summary, e.Description, e.Location = line.Subject, line.Body, f.Field
	if s.closed {
		end, _, err := d.facts(s.last())
		if err != nil {
			return e, err
		}
		e.Description = append(notice.Words(speaker, end, s.last().IssuedAt).Body, e.Description...)
	}
	e.days(s.first().Night, max(farm.DayOf(s.last().IssuedAt, speaker.Zone), s.first().Night))
	return e, nil
}

// useBy is an entry on the day by which a lot should be used.
func (d *scribe) useBy(ctx context.Context, s strand) (Event, error) {
	e := d.base(s)
	f, speaker, err := d.facts(s.last())
	if err != nil || f.Lot == nil {
		return e, err
	}
	line := notice.Words(speaker, f, s.last().IssuedAt)
	e.Summary, e.Description, e.Location = line.Subject, line.Body, f.Lot.Room
	day := farm.DayOf(f.Lot.UseBy, speaker.Zone)
	e.days(day, day)
	lot, err := d.book.Lot(ctx, d.owner.ID, f.Lot.ID)
	if err != nil && !gone(err) {
		return e, err
	}
	if at, ok := endOf(lot, err, s.last()); ok {
		e.cancel()
		e.change(at)
	}
	return e, nil
}

func endOf(lot farm.Lot, missing error, told store.Notice) (time.Time, bool) {
	if missing != nil {
		return told.IssuedAt, true
	}
	return lot.EndedAt.Get()
}
