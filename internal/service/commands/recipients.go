package commands

import (
	"context"
	"fmt"
	"net/mail"
	"slices"
	"strings"

	"github.com/nyaruka/phonenumbers"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// RecipientInput is a person who is told, as handed in.
type RecipientInput struct {
	Name      Optional[string]   `json:"name,omitzero" doc:"Who it is" example:"Crew lead"`
	Email     Optional[string]   `json:"email,omitzero" doc:"Address for mail" example:"crew@example.org"`
	Phone     Optional[string]   `json:"phone,omitzero" doc:"Number for SMS, international with + and country code; kept as E.164" example:"+12075550123"`
	Language  Optional[string]   `json:"language,omitzero" doc:"Left out: the farm's"`
	Units     Optional[string]   `json:"units,omitzero" doc:"Left out: the farm's"`
	QuietFrom Optional[string]   `json:"quiet_from,omitzero" doc:"Local clock time from which messages that can wait do wait" example:"21:30"`
	QuietTo   Optional[string]   `json:"quiet_to,omitzero" doc:"Local clock time until which they wait" example:"06:00"`
	Kinds     Optional[[]string] `json:"kinds,omitzero" doc:"Kinds of notices wanted; left out: all"`
}

func applyRecipient(c *check, in RecipientInput, r *farm.Recipient) {
	accept(c, "name", in.Name, aName, &r.Name, strings.TrimSpace)
	acceptOr(c, "email", in.Email, anEmail, &r.Email, strings.TrimSpace, "")
	acceptOr(c, "phone", in.Phone, aPhone, &r.Phone, e164, "")
	acceptOr(c, "language", in.Language, oneOf("farm.language"), &r.Language, same[string], "")
	acceptOr(c, "units", in.Units, oneOf("farm.units"), &r.Units, func(s string) unit.System { return unit.System(s) }, "")
	acceptOr(c, "quiet_from", in.QuietFrom, aClock, &r.QuietFrom, same[string], "")
	acceptOr(c, "quiet_to", in.QuietTo, aClock, &r.QuietTo, same[string], "")
	if in.Kinds.Touched() {
		r.Kinds, _ = in.Kinds.Get()
		c.kinds(r)
	}
	c.reachable(*r)
}

func (c *check) kinds(r *farm.Recipient) {
	for i, k := range r.Kinds {
		c.test(fmt.Sprintf("kinds[%d]", i), oneOf("recipient.kinds")(k))
	}
	slices.Sort(r.Kinds)
	r.Kinds = slices.Compact(r.Kinds)
}

func (c *check) reachable(r farm.Recipient) {
	if len(c.problems) > 0 {
		return
	}
	if r.Email == "" && r.Phone == "" {
		c.bad("email", "no_way")
	}
	if (r.QuietFrom == "") != (r.QuietTo == "") {
		c.bad("quiet_to", "quiet_half")
	}
	if r.QuietFrom != "" && r.QuietFrom == r.QuietTo {
		c.bad("quiet_to", "quiet_same")
	}
}

func anEmail(s string) phrase.Line {
	a, err := mail.ParseAddress(strings.TrimSpace(s))
	if err != nil || a.Address != strings.TrimSpace(s) || len(s) > 254 || !strings.Contains(s, "@") {
		return reason("email")
	}
	return fine
}

// aPhone asks only whether a number is possible, not whether it is assigned:
// numbering plans change faster than any list of them.
func aPhone(s string) phrase.Line {
	n, err := phonenumbers.Parse(s, "ZZ")
	if err != nil || !phonenumbers.IsPossibleNumber(n) {
		return reason("phone")
	}
	return fine
}

func e164(s string) string {
	n, err := phonenumbers.Parse(s, "ZZ")
	if err != nil {
		return ""
	}
	return phonenumbers.Format(n, phonenumbers.E164)
}

// AddRecipient makes a recipient. Errors: *Invalid.
func (d Service) AddRecipient(ctx context.Context, farmID int64, in RecipientInput) (r farm.Recipient, err error) {
	var c check
	made := farm.Recipient{FarmID: farmID, CreatedAt: d.now()}
	c.needs("recipient", in)
	applyRecipient(&c, in, &made)
	if err := c.err(); err != nil {
		return r, err
	}
	err = d.write(ctx, func(w store.Writer) error {
		owner, err := w.Farm(ctx, farmID)
		if err != nil {
			return err
		}
		likeFarm(&made, owner)
		id, err := w.AddRecipient(ctx, made)
		if err != nil {
			return err
		}
		if r, err = w.Recipient(ctx, farmID, id); err != nil {
			return err
		}
		return judgeAll(ctx, w, farmID) // what is due now must reach the new one too
	})
	return r, err
}

func likeFarm(r *farm.Recipient, f farm.Farm) {
	if r.Language == "" {
		r.Language = f.Language
	}
	if r.Units == "" {
		r.Units = f.Units
	}
}

// ChangeRecipient changes the members that were given. Errors: *Invalid,
// *Refused (removed), store.ErrNotFound, store.ErrChanged.
func (d Service) ChangeRecipient(ctx context.Context, farmID, id int64, seen Seen, in RecipientInput) (r farm.Recipient, err error) {
	err = d.write(ctx, func(w store.Writer) error {
		owner, err := w.Farm(ctx, farmID)
		if err != nil {
			return err
		}
		if r, err = w.Recipient(ctx, farmID, id); err != nil {
			return err
		}
		if err = unchanged(seen, r.Version); err != nil {
			return err
		}
		if r.RemovedAt.Known() {
			return refuse("recipient_gone", "id", id)
		}
		return updateRecipient(ctx, w, owner, &r, in)
	})
	return r, err
}

func updateRecipient(ctx context.Context, w store.Writer, owner farm.Farm, r *farm.Recipient, in RecipientInput) error {
	var c check
	before := r.Phone
	applyRecipient(&c, in, r)
	if err := c.err(); err != nil {
		return err
	}
	likeFarm(r, owner)
	if r.Phone != before {
		r.MutedSMS = false // the STOP came from the other number
	}
	if err := w.UpdateRecipient(ctx, *r); err != nil {
		return err
	}
	r.Version++
	return nil
}

// RemoveRecipient takes a recipient off the lists; removing one twice is
// harmless. Errors: store.ErrNotFound, store.ErrChanged.
func (d Service) RemoveRecipient(ctx context.Context, farmID, id int64, seen Seen) error {
	return d.write(ctx, func(w store.Writer) error {
		r, err := w.Recipient(ctx, farmID, id)
		if err != nil || r.RemovedAt.Known() {
			return err
		}
		if err := unchanged(seen, r.Version); err != nil {
			return err
		}
		r.RemovedAt = unit.Some(d.now())
		return w.UpdateRecipient(ctx, r)
	})
}
