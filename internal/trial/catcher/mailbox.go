package catcher

import (
	"io"
	"time"

	"github.com/emersion/go-smtp"
)

const mostBytes = 10 << 20 // of one mail

func (c *Catcher) mailServer() *smtp.Server {
	s := smtp.NewServer(smtp.BackendFunc(func(conn *smtp.Conn) (smtp.Session, error) {
		return &session{catcher: c, conn: conn}, nil
	}))
	s.Domain = "localhost"
	s.MaxMessageBytes = mostBytes
	s.MaxRecipients = 100
	s.ReadTimeout, s.WriteTimeout = 30*time.Second, 30*time.Second
	s.EnableSMTPUTF8 = true
	s.ErrorLog = silent{}
	return s
}

// silent drops what the library would print; broken lines are meant here.
type silent struct{}

func (silent) Printf(string, ...any) {}
func (silent) Println(...any)        {}

type session struct {
	catcher *Catcher
	conn    *smtp.Conn
	from    string
	to      []string
}

func (s *session) Reset()        { s.from, s.to = "", nil }
func (s *session) Logout() error { return nil }

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	s.from = from
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.to = append(s.to, to)
	return nil
}

func (s *session) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	switch s.catcher.takeMail(s.from, s.to, raw) {
	case Later:
		return &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "told to refuse for now"}
	case Never:
		return &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 6, 0}, Message: "told to refuse for good"}
	case Drop:
		return s.conn.Conn().Close()
	}
	return nil
}

func (c *Catcher) takeMail(from string, to []string, raw []byte) Failure {
	c.mu.Lock()
	defer c.mu.Unlock()
	how := next(&c.failMails)
	if how == Later || how == Never {
		return how
	}
	c.seenMails++
	m := parseMail(raw)
	m.N, m.At, m.From, m.To = c.seenMails, c.options.Now(), from, to
	c.mails = latest(append(c.mails, m), c.options.Keep)
	c.mailCounts[m.MessageID]++
	return how
}
