package email

import (
	"errors"
	"fmt"
	"net/mail"
	"net/url"
	"strings"
	"time"
)

// Mail is one message to one recipient.
type Mail struct {
	To, ToName     string
	Subject        string
	Text           string   // always there; what matters must be in it
	HTML           string   // empty: text only
	MessageID      string   // id@domain, with or without angle brackets, best under 60 characters; the same on every try
	References     []string // earlier Message-IDs of the same event, oldest first
	Date           time.Time
	UnsubscribeURL string       // https: with one-click POST (RFC 8058)
	Inline         []Attachment // shown inside HTML as <img src="cid:…">
	Attachments    []Attachment
}

// Attachment is a file that goes with a message.
type Attachment struct {
	Name        string
	ContentType string
	CID         string // Content-ID without angle brackets; inline only
	Bytes       []byte
}

// Check refuses what cannot be sent. No header field may hold a control
// character: a line break in one would let its writer add headers of his own.
func (m Mail) Check() error {
	for name, v := range m.headerTexts() {
		if at := strings.IndexFunc(v, control); at >= 0 {
			return fmt.Errorf("mail %s %q: holds a line break or control character", name, v)
		}
	}
	if a, err := mail.ParseAddress("<" + m.To + ">"); err != nil || a.Address != m.To {
		return fmt.Errorf("mail to %q: must be a plain address", m.To)
	}
	if m.Text == "" {
		return errors.New("mail text: is empty")
	}
	if m.Date.IsZero() {
		return errors.New("mail date: is missing")
	}
	return errors.Join(m.checkIDs(), m.checkUnsubscribe(), m.checkFiles())
}

func control(r rune) bool {
	return r < ' ' || r == 0x7F || r == '\u0085' || r == '\u2028' || r == '\u2029'
}

func (m Mail) headerTexts() map[string]string {
	h := map[string]string{
		"to": m.To, "name of the recipient": m.ToName, "subject": m.Subject,
		"message-id": m.MessageID, "unsubscribe address": m.UnsubscribeURL,
		"references": strings.Join(m.References, " "),
	}
	for i, a := range append(append([]Attachment{}, m.Inline...), m.Attachments...) {
		h[fmt.Sprintf("file %d", i+1)] = a.Name + a.ContentType + a.CID
	}
	return h
}

func (m Mail) checkIDs() error {
	for _, id := range append([]string{m.MessageID}, m.References...) {
		local, domain, ok := strings.Cut(bare(id), "@")
		if !ok || local == "" || domain == "" || strings.ContainsAny(bare(id), " <>()\"") || strings.Contains(domain, "@") {
			return fmt.Errorf("mail message-id %q: must be of the form part@domain", id)
		}
	}
	return nil
}

func (m Mail) checkUnsubscribe() error {
	if m.UnsubscribeURL == "" {
		return nil
	}
	u, err := url.Parse(m.UnsubscribeURL)
	if err != nil || u.Host == "" || (u.Scheme != "https" && u.Scheme != "http") || strings.ContainsAny(m.UnsubscribeURL, " <>,") {
		return fmt.Errorf("mail unsubscribe address %q: must be an https address without spaces, commas and angle brackets", m.UnsubscribeURL)
	}
	return nil
}

func (m Mail) checkFiles() error {
	for _, a := range m.Inline {
		if a.CID == "" || strings.ContainsAny(a.CID, " <>") {
			return fmt.Errorf("mail inline file %q: needs a content id without spaces and angle brackets", a.Name)
		}
	}
	if len(m.Inline) > 0 && m.HTML == "" {
		return errors.New("mail inline file: there is no HTML to show it in")
	}
	return nil
}

// bare is a Message-ID without its angle brackets.
func bare(id string) string { return strings.TrimSuffix(strings.TrimPrefix(id, "<"), ">") }
