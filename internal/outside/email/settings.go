// Package email sends notices by SMTP: composes the message and says of every
// failure whether trying again makes sense.
package email

import (
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/mail"
	"strings"
	"time"
)

// Mode is how the connection to the mail server is encrypted.
type Mode string

// Modes. None is meant for a server on the same machine.
const (
	StartTLS Mode = "starttls" // RFC 3207; refused where the server does not offer it
	Implicit Mode = "implicit" // TLS from the first byte, RFC 8314
	None     Mode = "none"
)

// DefaultTimeout bounds one whole delivery, from dialling to the last answer.
const DefaultTimeout = time.Minute

// Settings of the mail server.
type Settings struct {
	Host     string
	Port     int    // 0: 587 for starttls, 465 for implicit, 25 for none
	User     string // empty: no authentication
	Password string
	From     string // "Name <address>" or an address
	TLS      Mode   // empty: starttls
	Timeout  time.Duration
	Helo     string         // name given in EHLO; empty: the host's
	Roots    *x509.CertPool // nil: the system's
}

func (s Settings) withDefaults() Settings {
	if s.TLS == "" {
		s.TLS = StartTLS
	}
	if s.Port == 0 {
		s.Port = map[Mode]int{StartTLS: 587, Implicit: 465, None: 25}[s.TLS]
	}
	if s.Timeout == 0 {
		s.Timeout = DefaultTimeout
	}
	return s
}

// Check says what is wrong with the settings, naming the key.
func (s Settings) Check() error {
	s = s.withDefaults()
	switch {
	case s.Host == "" || strings.ContainsAny(s.Host, " \r\n\t/"):
		return fmt.Errorf("mail host %q: must be a host name or an address", s.Host)
	case s.TLS != StartTLS && s.TLS != Implicit && s.TLS != None:
		return fmt.Errorf("mail tls %q: must be starttls, implicit or none", s.TLS)
	case s.Port < 1 || s.Port > 65535:
		return fmt.Errorf("mail port %d: must be between 1 and 65535", s.Port)
	case s.Timeout < 0:
		return fmt.Errorf("mail timeout %s: must be positive", s.Timeout)
	case s.User == "" && s.Password != "":
		return errors.New("mail password: is set without mail user")
	case s.User != "" && s.TLS == None && !loopback(s.Host):
		return fmt.Errorf("mail tls none: would send the password of %s unencrypted to %s; use starttls or implicit", s.User, s.Host)
	}
	if _, err := mail.ParseAddress(s.From); err != nil || strings.ContainsAny(s.From, "\r\n") {
		return fmt.Errorf("mail from %q: must be an address, with or without a name: Winterstand <notices@example.org>", s.From)
	}
	return nil
}

// Warning is what the operator must be told aloud at start-up; empty where all is well.
func (s Settings) Warning() string {
	if s.TLS == None && !loopback(s.Host) {
		return fmt.Sprintf("mail to %s goes UNENCRYPTED (mail tls = none): anyone on the way can read and change the notices; none is meant for a mail server on this machine", s.Host)
	}
	return ""
}

func loopback(host string) bool {
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback()
}
