package email

import (
	"bytes"
	"fmt"
	"net/mail"
	"strings"
	"unicode"

	gomail "github.com/wneessen/go-mail"
	"golang.org/x/text/unicode/norm"
)

// mostReferences keeps the header short over a long winter: the first message
// and the latest ones (RFC 5322, 3.6.4, lets a long list be trimmed).
const mostReferences = 20

func message(from string, m Mail) (*gomail.Msg, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	sender, err := mail.ParseAddress(from)
	if err != nil {
		return nil, fmt.Errorf("mail from %q: %w", from, err)
	}
	msg := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	msg.FromMailAddress(sender)
	msg.ToMailAddress(&mail.Address{Name: m.ToName, Address: m.To})
	msg.SetGenHeaderPreformatted(gomail.HeaderSubject, encodeSubject(m.Subject))
	msg.SetDateWithValue(m.Date)
	msg.SetMessageIDWithValue(bare(m.MessageID))
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834
	thread(msg, m.References)
	unsubscribe(msg, m.UnsubscribeURL)
	return msg, body(msg, m)
}

func thread(msg *gomail.Msg, references []string) {
	if len(references) == 0 {
		return
	}
	if len(references) > mostReferences {
		references = append(references[:1:1], references[len(references)-mostReferences+1:]...)
	}
	ids := make([]string, len(references))
	for i, r := range references {
		ids[i] = "<" + bare(r) + ">"
	}
	msg.SetGenHeader(gomail.HeaderReferences, strings.Join(ids, " "))
	msg.SetGenHeader(gomail.HeaderInReplyTo, ids[len(ids)-1])
}

// unsubscribe follows RFC 2369 and, over https only, RFC 8058.
func unsubscribe(msg *gomail.Msg, address string) {
	if address == "" {
		return
	}
	msg.SetGenHeader(gomail.HeaderListUnsubscribe, "<"+address+">")
	if strings.HasPrefix(address, "https://") {
		msg.SetGenHeader(gomail.HeaderListUnsubscribePost, "List-Unsubscribe=One-Click")
	}
}

func body(msg *gomail.Msg, m Mail) error {
	msg.SetBodyString(gomail.TypeTextPlain, m.Text)
	if m.HTML != "" {
		msg.AddAlternativeString(gomail.TypeTextHTML, m.HTML)
	}
	for _, a := range m.Inline {
		if err := msg.EmbedReader(fileName(a.Name), bytes.NewReader(a.Bytes), fileOptions(a)...); err != nil {
			return fmt.Errorf("mail inline file %q: %w", a.Name, err)
		}
	}
	for _, a := range m.Attachments {
		if err := msg.AttachReader(fileName(a.Name), bytes.NewReader(a.Bytes), fileOptions(a)...); err != nil {
			return fmt.Errorf("mail attachment %q: %w", a.Name, err)
		}
	}
	return nil
}

func fileOptions(a Attachment) []gomail.FileOption {
	var options []gomail.FileOption
	if a.ContentType != "" {
		options = append(options, gomail.WithFileContentType(gomail.ContentType(a.ContentType)))
	}
	if a.CID != "" {
		options = append(options, gomail.WithFileContentID("<"+a.CID+">"))
	}
	return options
}

// fileName keeps the letters that need no encoding: RFC 2047 has no encoded words
// in a file name, and readers differ on RFC 2231.
func fileName(name string) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(name) {
		switch {
		case r >= ' ' && r <= '~' && !strings.ContainsRune("\"\\/:<>|?*", r):
			b.WriteRune(r)
		case !unicode.Is(unicode.Mn, r):
			b.WriteByte('_')
		}
	}
	return b.String()
}
