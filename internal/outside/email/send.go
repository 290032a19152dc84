package email

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"

	gomail "github.com/wneessen/go-mail"
)

// Sender delivers mail to one server. It keeps no connection and may be used
// from several goroutines.
type Sender struct{ settings Settings }

// New checks the settings; nothing is dialled yet.
func New(s Settings) (*Sender, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	return &Sender{settings: s.withDefaults()}, nil
}

// Send hands one message to the server. After an error, retry says whether the
// same message may be tried again:
//
//   - a message that cannot be composed, and a 5xx answer to the sender, the
//     recipient or the message: no;
//   - a 4xx answer, no connection, a broken or slow one, also after the message
//     was handed over and the answer never came: yes, and the repeat carries the
//     same Message-ID;
//   - a server that refuses us before it has heard of the message (certificate,
//     password, greeting): yes, for that is mended at this end.
func (s *Sender) Send(ctx context.Context, m Mail) (retry bool, err error) {
	msg, err := message(s.settings.From, m)
	if err != nil {
		return false, err
	}
	line := &line{}
	defer line.hangUp()
	stop := context.AfterFunc(ctx, line.hangUp)
	defer stop()
	client, err := s.client(line)
	if err != nil {
		return false, fmt.Errorf("mail settings: %w", err)
	}
	talk, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return true, fmt.Errorf("reach mail server %s: %w", s.address(), errors.Join(err, ctx.Err()))
	}
	err = client.SendWithSMTPClient(talk, msg)
	if msg.IsDelivered() {
		_ = client.CloseWithSMTPClient(talk)
		return false, nil
	}
	return !refused(err), fmt.Errorf("send mail %s to %s: %w", m.MessageID, m.To, errors.Join(err, ctx.Err()))
}

// refused tells whether the server said no for good (RFC 5321, 4.2.1).
func refused(err error) bool {
	var e *gomail.SendError
	return errors.As(err, &e) && e.ErrorCode() >= 500
}

func (s *Sender) address() string {
	return net.JoinHostPort(s.settings.Host, fmt.Sprint(s.settings.Port))
}

func (s *Sender) client(line *line) (*gomail.Client, error) {
	set := s.settings
	tlsConfig := &tls.Config{ServerName: set.Host, RootCAs: set.Roots, MinVersion: tls.VersionTLS12}
	options := []gomail.Option{
		gomail.WithPort(set.Port), gomail.WithTimeout(set.Timeout), gomail.WithTLSConfig(tlsConfig),
		gomail.WithoutNoop(), gomail.WithoutRset(),
	}
	dial := (&net.Dialer{}).DialContext
	switch set.TLS {
	case StartTLS:
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	case None:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	case Implicit:
		options = append(options, gomail.WithSSL())
		dial = (&tls.Dialer{Config: tlsConfig}).DialContext
	}
	options = append(options, gomail.WithDialContextFunc(line.through(dial)))
	if set.Helo != "" {
		options = append(options, gomail.WithHELO(set.Helo))
	}
	return gomail.NewClient(set.Host, append(options, s.authentication()...)...)
}

func (s *Sender) authentication() []gomail.Option {
	if s.settings.User == "" {
		return nil
	}
	return []gomail.Option{
		gomail.WithUsername(s.settings.User), gomail.WithPassword(s.settings.Password),
		// Challenge and response first, so that the password itself travels only
		// where the server knows nothing better.
		gomail.WithOpportunisticSMTPAuth(gomail.SMTPAuthSCRAMSHA256, gomail.SMTPAuthSCRAMSHA1,
			gomail.SMTPAuthCramMD5, gomail.SMTPAuthPlain, gomail.SMTPAuthLogin),
	}
}
