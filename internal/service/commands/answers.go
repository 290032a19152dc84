package commands

import (
	"context"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// DefaultAnswerCover is what "covered" means when nobody says with what: the
// lightest cover there is, so that the bed is not thought warmer than it is.
// Own default.
const DefaultAnswerCover = string(microclimate.RowCoverLight)

// AnswerInput is an answer to a notice, as handed in.
type AnswerInput struct {
	Answer      Optional[string]  `json:"answer,omitzero" doc:"harvested: the bed, or harvested_kg of it, is out. covered: a cover went on today. leave_it: no more asking until the night is over. seen: nothing else"`
	HarvestedKg Optional[float64] `json:"harvested_kg,omitzero" doc:"How much of the bed was harvested, kg; left out: all of it" example:"40"`
	Cover       Optional[string]  `json:"cover,omitzero" doc:"For covered: what went on; left out: row_cover_light, unless the bed is covered already"`
	RoomID      Optional[int64]   `json:"room_id,omitzero" doc:"For harvested: also enter the harvest as a lot in this room"`
	Container   Optional[string]  `json:"container,omitzero" doc:"For a lot: what it is kept in; left out: open"`
}

// Answered is what an answer did.
type Answered struct {
	Answer farm.Answer
	Bed    unit.Maybe[farm.Bed] // as it stands after it
	Lot    unit.Maybe[farm.Lot] // that was made of it
	Repeat bool                 // the same had been answered before: nothing was changed
}

// Answer takes an answer to a notice and does what it says; by is the recipient
// (0: a program). The same answer twice running is harmless: the second one
// changes nothing. Errors: *Invalid, store.ErrNotFound.
func (d Service) Answer(ctx context.Context, farmID, noticeID, by int64, in AnswerInput) (out Answered, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		n, err := w.Notice(ctx, farmID, noticeID)
		if err != nil {
			return err
		}
		a := farm.Answer{FarmID: farmID, NoticeID: noticeID, BedID: n.BedID, RecipientID: by, At: d.now()}
		if err := checkAnswer(in, &a); err != nil {
			return err
		}
		if last, ok, err := repeated(ctx, w.Reader, a); ok || err != nil {
			out = Answered{Answer: last, Repeat: true}
			return err
		}
		t := &turn{Service: d, w: w, notice: n, in: in, out: Answered{Answer: a}}
		if err := t.take(ctx); err != nil {
			return err
		}
		t.out.Answer.ID, err = w.AddAnswer(ctx, a)
		out = t.out
		return err
	})
	return out, err
}

func checkAnswer(in AnswerInput, a *farm.Answer) error {
	var c check
	c.needs("answer", in)
	accept(&c, "answer", in.Answer, oneOf("answer.answer"), &a.Answer, same[string])
	acceptMaybe(&c, "harvested_kg", in.HarvestedKg, within("answer.harvested_kg"), &a.HarvestedKg, same[float64])
	var cover string
	accept(&c, "cover", in.Cover, oneOf("cover.kind"), &cover, same[string])
	harvested := a.Answer == farm.Harvested
	if a.HarvestedKg.Known() && !harvested {
		c.bad("harvested_kg", "only_harvested")
	}
	if in.RoomID.Touched() && !harvested {
		c.bad("room_id", "only_harvested")
	}
	if in.Cover.Touched() && a.Answer != farm.Covered {
		c.bad("cover", "only_covered")
	}
	if a.BedID == 0 && (harvested || a.Answer == farm.Covered) {
		c.bad("answer", "not_about_a_bed")
	}
	return c.err()
}

// repeated finds the latest answer to the notice when it says the same.
func repeated(ctx context.Context, r store.Reader, a farm.Answer) (farm.Answer, bool, error) {
	before, err := r.Answers(ctx, a.FarmID, a.NoticeID)
	if err != nil || len(before) == 0 {
		return farm.Answer{}, false, err
	}
	last := before[0]
	for _, b := range before {
		if b.ID > last.ID {
			last = b
		}
	}
	return last, last.Answer == a.Answer && last.HarvestedKg == a.HarvestedKg, nil
}

// turn is one answer being carried out.
type turn struct {
	Service
	w      store.Writer
	notice store.Notice
	in     AnswerInput
	place  place
	bed    farm.Bed
	out    Answered
}

func (t *turn) take(ctx context.Context) (err error) {
	if t.notice.BedID == 0 {
		return nil
	}
	if t.bed, err = t.w.Bed(ctx, t.notice.FarmID, t.notice.BedID); err != nil {
		return err
	}
	if t.place, err = t.Service.place(ctx, t.w.Reader, t.bed.FarmID, t.bed.FieldID); err != nil {
		return err
	}
	if err := t.carryOut(ctx); err != nil {
		return err
	}
	t.out.Bed = unit.Some(t.bed)
	return nil
}

func (t *turn) carryOut(ctx context.Context) error {
	if err := t.store(ctx); err != nil {
		return err
	}
	if t.bed.ClearedAt.Known() {
		return nil // nothing stands there any more
	}
	switch t.out.Answer.Answer {
	case farm.Harvested:
		t.harvest()
	case farm.Covered:
		t.cover()
	case farm.LeaveIt:
		t.bed.QuietUntil = unit.Some(t.quietUntil())
	default:
		return nil
	}
	return saveBed(ctx, t.w, &t.bed, t.place)
}

// quietUntil is noon after the night the notice speaks of.
func (t *turn) quietUntil() time.Time {
	night := t.notice.Night
	if night == "" {
		night = farm.NightOf(t.now(), t.place.at.Zone)
	}
	return night.Add(1).Noon(t.place.at.Zone).UTC()
}

// harvest takes what was harvested off the bed and clears it when nothing is left.
func (t *turn) harvest() {
	kg, some := t.out.Answer.HarvestedKg.Get()
	standing, known := t.bed.StandingKg.Get()
	switch {
	case !some || known && kg >= standing:
		t.bed.StandingKg = unit.Some(0.0)
		clearBed(&t.bed, t.now())
	case known:
		t.bed.StandingKg = unit.Some(standing - kg)
	}
}

// cover lays a cover from today on. A bed that is covered already stays as it
// is unless the answer says with what.
func (t *turn) cover() {
	today := t.place.today(t.now())
	kind, said := t.in.Cover.Get()
	lies := t.bed.CoverOn(today)
	if !said && lies != string(microclimate.NoCover) || said && lies == kind {
		return
	}
	if !said {
		kind = DefaultAnswerCover
	}
	t.bed.Covers = append(t.bed.Covers, farm.Cover{Kind: kind, On: today})
}

// store enters the harvest as a lot where a room was named.
func (t *turn) store(ctx context.Context) error {
	if !t.in.RoomID.Touched() {
		return nil
	}
	kg, known := t.out.Answer.HarvestedKg.Get()
	if !known {
		if kg, known = t.bed.StandingKg.Get(); !known || kg == 0 {
			return wrong("harvested_kg", "lot_weight")
		}
	}
	lot, err := t.Within(t.w).AddLot(ctx, t.bed.FarmID, LotInput{
		RoomID: t.in.RoomID, Container: t.in.Container, Crop: Set(t.bed.Crop), Variety: Set(t.bed.Variety),
		Kg: Set(kg), HarvestedAt: Set(t.now()), FromBedID: Set(t.bed.ID),
	})
	if err != nil {
		return err
	}
	t.out.Lot = unit.Some(lot)
	return nil
}
