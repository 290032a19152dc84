package page

import (
	"errors"
	"slices"
	"strconv"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
)

var unsubscribeScreen = Screen{Routes: func(s *Site, r chi.Router) {
	r.Get("/u/{token}", s.open(showUnsubscribe))
	r.Post("/u/{token}", s.open(unsubscribe))
}}

// unsubscribePage stops one kind of mail to one person.
type unsubscribePage struct {
	Action, CSRF string
	Kind, Email  string
	Muted        bool
	Alone        bool // nobody on the farm would hear of a deadline any more
	Harvest      bool // the kind that everything hangs on
}

// unwanted reads a signed link: who does not want what.
func (v *visit) unwanted() (farm.Recipient, string, error) {
	parts, err := v.Signer.Read(deliver.UnsubscribeLink, chi.URLParam(v.r, "token"), v.now)
	if err != nil || len(parts) != 3 || !slices.Contains(notice.Kinds(), parts[2]) {
		return farm.Recipient{}, "", link.ErrNotSigned
	}
	farmID, _ := strconv.ParseInt(parts[0], 36, 64) // signed by us
	id, _ := strconv.ParseInt(parts[1], 36, 64)
	err = v.addressed(store.Message{FarmID: farmID, RecipientID: id})
	return v.who, parts[2], err
}

func showUnsubscribe(v *visit) error {
	who, kind, err := v.unwanted()
	if err != nil {
		return err
	}
	return v.unsubscribePage(who, kind)
}

func (v *visit) unsubscribePage(who farm.Recipient, kind string) error {
	token := chi.URLParam(v.r, "token")
	d := unsubscribePage{Action: "/u/" + token, CSRF: v.formSecret(token), Kind: v.kind(kind), Email: who.Email,
		Muted: slices.Contains(who.MutedMail, kind), Harvest: kind == notice.HarvestBefore}
	if d.Harvest {
		alone, err := v.alone(who)
		if err != nil {
			return err
		}
		d.Alone = alone
	}
	return v.show("unsubscribe", v.say("page.unsubscribe"), d)
}

// alone tells whether the farm has no way left for a harvest-before notice once
// this person's mail is stopped.
func (v *visit) alone(who farm.Recipient) (bool, error) {
	recipients, err := v.books().Recipients(v.ctx(), who.FarmID, store.Page{})
	if err != nil {
		return false, err
	}
	for _, r := range recipients {
		if r.ID == who.ID {
			r.MutedMail = append(slices.Clone(r.MutedMail), notice.HarvestBefore)
		}
		for _, c := range v.Channels {
			if announce.Wants(r, c, notice.HarvestBefore) {
				return false, nil
			}
		}
	}
	return true, nil
}

// oneClick is the body that mail programs post by themselves when their reader
// has pressed their own button (RFC 8058, section 3.2).
const oneClick = "One-Click"

func unsubscribe(v *visit) error {
	who, kind, err := v.unwanted()
	if err != nil {
		return err
	}
	if v.r.FormValue("List-Unsubscribe") != oneClick {
		if err := v.ownAnswer(chi.URLParam(v.r, "token")); err != nil {
			return err
		}
	}
	if err := v.mute(who, kind); err != nil {
		return err
	}
	if who, kind, err = v.unwanted(); err != nil {
		return err
	}
	return v.unsubscribePage(who, kind)
}

// mute stops a kind of mail; stopping it twice is harmless.
func (v *visit) mute(who farm.Recipient, kind string) error {
	err := v.Commands.Store.Write(v.ctx(), func(w store.Writer) error {
		r, err := w.Recipient(v.ctx(), who.FarmID, who.ID)
		if err != nil || slices.Contains(r.MutedMail, kind) {
			return err
		}
		r.MutedMail = append(r.MutedMail, kind)
		return w.UpdateRecipient(v.ctx(), r)
	})
	if errors.Is(err, store.ErrNotFound) {
		return link.ErrNotSigned
	}
	return err
}
