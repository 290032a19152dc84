package catcher

import (
	"bytes"
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"time"
)

// Mail is one message as it was taken.
type Mail struct {
	N         int       `json:"n"` // 1 for the first
	At        time.Time `json:"at"`
	From      string    `json:"envelope_from"`
	To        []string  `json:"envelope_to"`
	MessageID string    `json:"message_id"` // without angle brackets
	Subject   string    `json:"subject"`
	Sender    string    `json:"from"` // header, decoded
	Recipient string    `json:"to"`   // header, decoded
	Text      string    `json:"text"`
	HTML      string    `json:"html,omitempty"`
	Parts     []Part    `json:"parts,omitempty"` // everything but text and HTML
	Problem   string    `json:"problem,omitempty"`
	// Header is the message's header as net/mail reads it.
	Header mail.Header `json:"header"`
	Raw    []byte      `json:"-"`
}

// Part is a picture or an attachment.
type Part struct {
	Name        string `json:"name"`
	ContentType string `json:"content_type"`
	CID         string `json:"cid,omitempty"` // without angle brackets
	Inline      bool   `json:"inline,omitempty"`
	Bytes       []byte `json:"bytes"`
}

// parseMail reads a message with the standard library alone, so that a mail that
// only its own composer understands shows here. What cannot be read is named in Problem.
func parseMail(raw []byte) Mail {
	m := Mail{Raw: raw}
	message, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		m.Problem = err.Error()
		return m
	}
	m.Header = message.Header
	m.MessageID = strings.Trim(strings.TrimSpace(message.Header.Get("Message-ID")), "<>")
	m.Subject = decoded(message.Header.Get("Subject"))
	m.Sender = decoded(message.Header.Get("From"))
	m.Recipient = decoded(message.Header.Get("To"))
	if err := m.read(message.Header, message.Body); err != nil {
		m.Problem = err.Error()
	}
	return m
}

func decoded(s string) string {
	if d, err := new(mime.WordDecoder).DecodeHeader(s); err == nil {
		return d
	}
	return s
}

// read walks the MIME tree.
func (m *Mail) read(header map[string][]string, body io.Reader) error {
	kind, params, err := mime.ParseMediaType(first(header, "Content-Type", "text/plain"))
	if err != nil {
		return err
	}
	if strings.HasPrefix(kind, "multipart/") {
		return m.readParts(multipart.NewReader(body, params["boundary"]))
	}
	b, err := io.ReadAll(transferDecoder(first(header, "Content-Transfer-Encoding", ""), body))
	if err != nil {
		return err
	}
	disposition, file, _ := mime.ParseMediaType(first(header, "Content-Disposition", "inline"))
	switch {
	case kind == "text/plain" && disposition == "inline" && m.Text == "":
		m.Text = strings.ReplaceAll(string(b), "\r\n", "\n")
	case kind == "text/html" && disposition == "inline" && m.HTML == "":
		m.HTML = string(b)
	default:
		m.Parts = append(m.Parts, Part{Name: decoded(file["filename"]), ContentType: kind, Inline: disposition == "inline",
			CID: strings.Trim(first(header, "Content-Id", ""), "<>"), Bytes: b})
	}
	return nil
}

func (m *Mail) readParts(r *multipart.Reader) error {
	for {
		p, err := r.NextRawPart()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if err := m.read(p.Header, p); err != nil {
			return err
		}
	}
}

func first(header map[string][]string, name, otherwise string) string {
	if v := header[name]; len(v) > 0 {
		return v[0]
	}
	return otherwise
}

func transferDecoder(encoding string, r io.Reader) io.Reader {
	switch strings.ToLower(encoding) {
	case "quoted-printable":
		return quotedprintable.NewReader(r)
	case "base64":
		return base64.NewDecoder(base64.StdEncoding, r)
	}
	return r
}
