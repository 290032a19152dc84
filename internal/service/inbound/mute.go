package inbound

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/service/announce"
	"winterstand/internal/store"
)

// stop ends texts to the number, on all farms. It is confirmed once (CTIA
// Messaging Principles and Best Practices, 5.1.3, from memory).
func (t *turn) stop(ctx context.Context) (words, error) {
	if t.muted() {
		return nil, nil
	}
	if err := t.mute(ctx, true); err != nil {
		return nil, err
	}
	said := t.say("stop", phrase.Args{"farms": t.farms()})
	for _, p := range t.people {
		alone, err := t.unheard(ctx, p.owner)
		if err != nil {
			return nil, err
		}
		if !alone {
			continue
		}
		said = append(said, t.say("stop_alone", phrase.Args{"farm": p.owner.Name})...)
		if err := t.tellUnheard(ctx, p); err != nil {
			return nil, err
		}
	}
	return said, nil
}

func (t *turn) start(ctx context.Context) (words, error) {
	if err := t.mute(ctx, false); err != nil {
		return nil, err
	}
	return t.say("start", phrase.Args{"farms": t.farms()}), nil
}

func (t *turn) mute(ctx context.Context, muted bool) error {
	for _, p := range t.people {
		r, err := t.w.Recipient(ctx, p.owner.ID, p.to.ID)
		if err != nil {
			return err
		}
		if r.MutedSMS == muted {
			continue
		}
		r.MutedSMS = muted
		if err := t.w.UpdateRecipient(ctx, r); err != nil {
			return fmt.Errorf("recipient %d: %w", r.ID, err)
		}
	}
	return nil
}

// unheard tells whether nobody on a farm gets harvest-before notices any more.
func (t *turn) unheard(ctx context.Context, owner farm.Farm) (bool, error) {
	recipients, err := t.w.Recipients(ctx, owner.ID, store.Page{})
	if err != nil {
		return false, err
	}
	for _, r := range recipients {
		if slices.ContainsFunc(t.Channels, func(c string) bool { return announce.Wants(r, c, notice.HarvestBefore) }) {
			return false, nil
		}
	}
	return true, nil
}

// tellUnheard tells whoever still gets other notices, by the ways left.
func (t *turn) tellUnheard(ctx context.Context, p person) error {
	facts := notice.Facts{Kind: notice.Undelivered, Farm: p.owner.Name, Zone: p.zone.String(), Night: farm.DayOf(t.now, p.zone),
		Unreached: &notice.Unreached{Name: p.to.Name, Channel: store.SMS, Error: "STOP", About: []int64{}, Alone: true}}
	body, err := json.Marshal(facts)
	if err != nil {
		return fmt.Errorf("facts of recipient %d: %w", p.to.ID, err)
	}
	n := store.Notice{FarmID: p.owner.ID, Subject: fmt.Sprintf("recipient:%d/stop", p.to.ID), Kind: notice.Undelivered,
		Night: facts.Night, IssuedAt: t.now, Facts: body}
	n.ID, err = t.w.AddNotice(ctx, n)
	if errors.Is(err, store.ErrExists) {
		return nil // told today already
	}
	if err != nil {
		return err
	}
	return announce.Address(ctx, t.w, []announce.Addressed{{Notice: n, Owner: p.owner, Zone: p.zone}}, t.now)
}
