package app

import (
	"context"
	"log/slog"
	"net/url"
	"strings"

	"winterstand/internal/outside/email"
	"winterstand/internal/outside/settings"
	"winterstand/internal/outside/sms"
	"winterstand/internal/service/deliver"
	"winterstand/internal/store"
)

// senders are the channels that are set up.
func senders(s settings.Settings, log *slog.Logger) (map[string]deliver.Sender, error) {
	out := map[string]deliver.Sender{}
	if m := s.Mail; m.Host != "" {
		es := email.Settings{Host: m.Host, Port: m.Port, User: m.User, Password: m.Password, From: m.From, TLS: email.Mode(m.TLS)}
		sender, err := email.New(es)
		if err != nil {
			return nil, err
		}
		warn(log, es.Warning())
		out[store.Email] = mailer{send: sender, domain: domainOf(s)}
	}
	if g := s.SMS; g.URL != "" {
		gs := sms.Settings{URL: g.URL, Method: g.Method, Headers: g.Headers, Body: g.Body, From: g.From, Success: g.Success, SuccessBody: g.SuccessBody}
		gateway, err := sms.New(gs)
		if err != nil {
			return nil, err
		}
		warn(log, gs.Warning())
		out[store.SMS] = texter{gateway}
	}
	if len(out) == 0 {
		log.Warn("neither mail nor sms is set up: notices are kept and shown, but reach nobody")
	}
	return out, nil
}

func warn(log *slog.Logger, text string) {
	if text != "" {
		log.Warn(text)
	}
}

// domainOf is the right-hand side of message IDs.
func domainOf(s settings.Settings) string {
	if u, err := url.Parse(s.PublicURL); err == nil && strings.Contains(u.Hostname(), ".") {
		return u.Hostname()
	}
	return "winterstand.invalid"
}

type mailer struct {
	send   *email.Sender
	domain string
}

// Send hands an envelope to the mail server.
func (m mailer) Send(ctx context.Context, e deliver.Envelope) (bool, error) {
	mail := email.Mail{
		To: e.To.Email, ToName: e.To.Name, Subject: e.Letter.Subject, Text: e.Letter.Text, HTML: e.Letter.HTML,
		MessageID: e.Key + "@" + m.domain, Date: e.At, UnsubscribeURL: httpsOnly(e.Links.Unsubscribe),
	}
	for _, t := range e.Thread {
		mail.References = append(mail.References, t+"@"+m.domain)
	}
	for _, p := range e.Pictures {
		mail.Inline = append(mail.Inline, email.Attachment{Name: p.Title, ContentType: "image/png", CID: p.CID, Bytes: p.PNG})
	}
	return m.send.Send(ctx, mail)
}

// httpsOnly: RFC 8058 asks for https; on a plain address the link stands in the
// text only.
func httpsOnly(link string) string {
	if strings.HasPrefix(link, "https://") {
		return link
	}
	return ""
}

type texter struct{ gateway *sms.Gateway }

// Send hands an envelope to the text gateway.
func (t texter) Send(ctx context.Context, e deliver.Envelope) (bool, error) {
	return t.gateway.Send(ctx, sms.Text{To: e.To.Phone, Text: e.Letter.SMS, Key: e.Key})
}
