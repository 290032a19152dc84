package page

import (
	"strconv"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
)

// The links of messages, made as the carrier makes them.

func (w *world) answerLink(m store.Message) string {
	return "/a/" + w.site.Signer.Token(deliver.AnswerLink, m.CreatedAt.Add(60*24*time.Hour), strconv.FormatInt(m.ID, 36))
}

func (w *world) unsubscribeLink(r farm.Recipient, kind string) string {
	return "/u/" + w.site.Signer.Token(deliver.UnsubscribeLink, time.Time{}, strconv.FormatInt(r.FarmID, 36), strconv.FormatInt(r.ID, 36), kind)
}

func (w *world) signInLink(r farm.Recipient) string {
	return "/in/" + w.site.Signer.Token(linkPurpose, w.now.Add(linkFor), strconv.FormatInt(r.FarmID, 36), strconv.FormatInt(r.ID, 36), "nonce")
}
