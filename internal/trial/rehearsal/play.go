package rehearsal

import (
	"context"
	"fmt"
	"slices"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// Told is one notice that has left, as the demo prints it.
type Told struct {
	Event         string                `json:"event"`
	Kind          string                `json:"kind"`
	Farm          string                `json:"farm"`
	Field         string                `json:"field,omitempty"`
	Bed           string                `json:"bed,omitempty"`
	Crop          string                `json:"crop,omitempty"`
	HarvestBefore unit.Maybe[time.Time] `json:"harvest_before,omitzero"`
	Likelihood    unit.Maybe[float64]   `json:"likelihood,omitzero"`
	Reason        string                `json:"reason"`
	Channels      []string              `json:"channels"`
	IssuedAt      time.Time             `json:"issued_at"`
	Subject       string                `json:"subject"`
}

// Summary is the last line of a winter.
type Summary struct {
	Event      string         `json:"event"`
	From       time.Time      `json:"from"`
	To         time.Time      `json:"to"`
	Rounds     int            `json:"rounds"`
	Notices    int            `json:"notices"`
	ByKind     map[string]int `json:"by_kind"`
	Mails      int            `json:"mails"`
	Texts      int            `json:"texts"`
	Repeats    int            `json:"repeats"` // of a message key at the mail server or the gateway
	Harvested  int            `json:"beds_harvested_in_time"`
	Lost       int            `json:"beds_lost"`
	Standing   int            `json:"beds_still_standing"`
	HarvestKg  float64        `json:"harvested_kg"`
	RealSecond float64        `json:"seconds"`
}

// Player plays a winter on a stage.
type Player struct {
	Stage *Stage
	Step  time.Duration // of the clock between rounds
	Until time.Time
	Say   func(Told)

	harvested map[int64]bool
	lost      map[int64]bool
	heard     map[int64]bool // notices on lots and rooms
	stored    farm.Day       // of the last round of the stores
	kg        float64
}

// Play runs the winter through the real pipeline, round by round: the stand-in
// is asked over HTTP, beds are judged, notices written, mail and texts sent. The
// grower of the story answers: what is for sale is harvested at the last call or
// in the last window and put where it keeps, what is to overwinter is left.
func (p *Player) Play(ctx context.Context) (Summary, error) {
	began := time.Now()
	p.harvested, p.lost, p.heard = map[int64]bool{}, map[int64]bool{}, map[int64]bool{}
	s := p.Stage
	sum := Summary{Event: "summary", From: s.Clock.Now(), ByKind: map[string]int{}}
	for ; s.Clock.Now().Before(p.Until); s.Clock.Set(s.Clock.Now().Add(p.Step)) {
		if err := ctx.Err(); err != nil {
			return sum, err
		}
		o, err := s.Service.Runner.Round(ctx)
		if err != nil {
			return sum, fmt.Errorf("round at %s: %w", s.Clock.Now().Format(time.RFC3339), err)
		}
		if err := s.Service.Drain(ctx); err != nil {
			return sum, err
		}
		sum.Rounds++
		for _, n := range o.Notices {
			if err := p.tell(n, &sum); err != nil {
				return sum, err
			}
			if err := p.answer(ctx, n); err != nil {
				return sum, err
			}
		}
		if err := p.keepers(ctx, &sum); err != nil {
			return sum, err
		}
	}
	return p.close(ctx, sum, began)
}

func (p *Player) tell(n store.Notice, sum *Summary) error {
	var f notice.Facts
	if err := decode(n.Facts, &f); err != nil {
		return err
	}
	sum.Notices++
	sum.ByKind[n.Kind]++
	speaker := p.Stage.Service.Speaker(f)
	words := notice.Words(speaker, f, n.IssuedAt)
	t := Told{Event: "notice", Kind: n.Kind, Farm: f.Farm, Field: f.Field, Bed: f.Bed, Crop: f.Crop, HarvestBefore: n.HarvestBefore,
		Likelihood: n.Likelihood, Reason: words.Body[0], Channels: p.Stage.channels(n.ID), IssuedAt: n.IssuedAt, Subject: words.Subject}
	if f.Verdict != nil {
		t.Reason = notice.ReasonText(speaker, *f.Verdict)
	}
	p.Say(t)
	return nil
}

func (s *Stage) channels(noticeID int64) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := slices.Clone(s.told[noticeID])
	slices.Sort(out)
	return slices.Compact(out)
}

// answer is what the grower of the story does about a notice.
func (p *Player) answer(ctx context.Context, n store.Notice) error {
	if n.BedID == 0 {
		return nil
	}
	bed, err := p.Stage.Service.Book.Bed(ctx, n.FarmID, n.BedID)
	if err != nil || bed.ClearedAt.Known() {
		return err
	}
	switch {
	case n.Kind == notice.Inspect:
		return p.inspect(ctx, n, bed)
	case bed.Purpose == farm.Overwinter:
		return nil
	case n.Kind == notice.LastCall, n.Kind == notice.Moved && p.soon(n), n.Kind == notice.HarvestBefore && p.soon(n):
		return p.harvest(ctx, n, bed)
	}
	return nil
}

// soon: the deadline is within the day, so no other call will come first.
func (p *Player) soon(n store.Notice) bool {
	by, ok := n.HarvestBefore.Get()
	return ok && by.Sub(p.Stage.Clock.Now()) < 14*time.Hour
}

func (p *Player) harvest(ctx context.Context, n store.Notice, bed farm.Bed) error {
	room, err := p.roomFor(ctx, bed)
	if err != nil {
		return err
	}
	_, err = p.Stage.Service.Commands.Answer(ctx, n.FarmID, n.ID, 0, commands.AnswerInput{Answer: commands.Set(farm.Harvested), RoomID: room, Container: commands.Set("tote")})
	if err != nil {
		return fmt.Errorf("answer notice %d: %w", n.ID, err)
	}
	p.harvested[bed.ID] = true
	p.kg += bed.StandingKg.Else(0)
	return nil
}

// inspect: the grower looks, and what the night took is cleared.
func (p *Player) inspect(ctx context.Context, n store.Notice, bed farm.Bed) error {
	var f notice.Facts
	if err := decode(n.Facts, &f); err != nil {
		return err
	}
	left := 1.0
	if f.Verdict != nil {
		left = f.Verdict.SoldLeft
	}
	if left > 0.5 || bed.Purpose == farm.Overwinter {
		return nil
	}
	p.lost[bed.ID] = true
	return p.Stage.Service.Commands.ClearBed(ctx, n.FarmID, bed.ID, unit.None[int64]())
}

func (p *Player) close(ctx context.Context, sum Summary, began time.Time) (Summary, error) {
	s := p.Stage
	sum.To, sum.RealSecond = s.Clock.Now(), time.Since(began).Seconds()
	sum.Mails, sum.Texts = len(s.Catcher.Mails()), len(s.Catcher.Texts())
	for _, counts := range []map[string]int{s.Catcher.MailCounts(), s.Catcher.TextCounts()} {
		for _, n := range counts {
			sum.Repeats += n - 1
		}
	}
	beds, err := s.Service.Book.Beds(ctx, s.FarmID, store.BedFilter{})
	sum.Standing, sum.Harvested, sum.Lost, sum.HarvestKg = len(beds), len(p.harvested), len(p.lost), p.kg
	return sum, err
}
