package email

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hmac"
	"crypto/md5"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"errors"
	"io"
	"math/big"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"winterstand/internal/outside/serving"
)

// server is a real mail server (emersion/go-smtp) on loopback whose answers a
// test can set.
type server struct {
	mu         sync.Mutex
	mails      []string // as they arrived
	mechanisms []string
	logins     []string // mechanism user
	onMail     error
	onRcpt     error
	onData     []error       // one a message, then accepted
	drop       int           // messages kept, but the line breaks before the answer
	hang       chan struct{} // not nil: a mail waits until it is closed
	hangs      chan struct{} // told when one waits
}

const user, password = "grower", "pa55 wörd"

type mode func(*smtp.Server, *tls.Config, *net.Listener)

func starttls(s *smtp.Server, c *tls.Config, _ *net.Listener) { s.TLSConfig = c }
func implicit(_ *smtp.Server, c *tls.Config, l *net.Listener) { *l = tls.NewListener(*l, c) }
func unencrypted(s *smtp.Server, _ *tls.Config, _ *net.Listener) {
	s.AllowInsecureAuth = true
}

// start gives the settings that reach the server.
func (s *server) start(t *testing.T, how mode) Settings {
	t.Helper()
	config, roots := certificate(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	port := l.Addr().(*net.TCPAddr).Port
	srv := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) {
		return &session{server: s, conn: c}, nil
	}))
	srv.Domain, srv.MaxMessageBytes = "mail.test", 1<<20
	srv.ErrorLog = quiet{}
	how(srv, config, &l)
	running := serving.Start(l, srv)
	t.Cleanup(func() { require.NoError(t, running.Close()) })
	return Settings{Host: "127.0.0.1", Port: port, From: "Winterstand <notices@farm.test>", Roots: roots, Timeout: 10 * time.Second}
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "mail.test"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	leaf, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(leaf)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, roots
}

func (s *server) arrived() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string{}, s.mails...)
}

type session struct {
	*server
	conn *smtp.Conn
	ok   bool
}

func (s *session) Reset()        {}
func (s *session) Logout() error { return nil }
func (s *session) Mail(string, *smtp.MailOptions) error {
	if len(s.mechanisms) > 0 && !s.ok {
		return smtp.ErrAuthRequired
	}
	return s.onMail
}
func (s *session) Rcpt(string, *smtp.RcptOptions) error { return s.onRcpt }

func (s *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if s.hang != nil {
		s.hangs <- struct{}{}
		<-s.hang
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.onData) > 0 {
		err, s.onData = s.onData[0], s.onData[1:]
		return err
	}
	s.mails = append(s.mails, string(b))
	if s.drop > 0 {
		s.drop--
		return s.conn.Conn().Close()
	}
	return nil
}

func (s *session) AuthMechanisms() []string { return s.mechanisms }

func (s *session) Auth(mech string) (sasl.Server, error) {
	check := func(u, p string) error {
		if u != user || p != password {
			return smtp.ErrAuthFailed
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		s.ok, s.logins = true, append(s.logins, mech+" "+u)
		return nil
	}
	switch mech {
	case "PLAIN":
		return sasl.NewPlainServer(func(_, u, p string) error { return check(u, p) }), nil
	case "LOGIN":
		return &login{check: check}, nil
	case "CRAM-MD5":
		return &cram{check: check}, nil
	}
	return nil, smtp.ErrAuthUnknownMechanism
}

// login is the server's side of draft-murchison-sasl-login.
type login struct {
	check func(user, password string) error
	said  []string
	asked int
}

func (l *login) Next(response []byte) ([]byte, bool, error) {
	if l.asked > 0 {
		l.said = append(l.said, string(response))
	}
	l.asked++
	switch l.asked {
	case 1:
		return []byte("Username:"), false, nil
	case 2:
		return []byte("Password:"), false, nil
	}
	return nil, true, l.check(l.said[0], l.said[1])
}

// cram is the server's side of RFC 2195.
type cram struct {
	check     func(user, password string) error
	challenge string
}

func (c *cram) Next(response []byte) ([]byte, bool, error) {
	if c.challenge == "" {
		c.challenge = "<1896.697170952@mail.test>"
		return []byte(c.challenge), false, nil
	}
	name, digest, _ := strings.Cut(string(response), " ")
	h := hmac.New(md5.New, []byte(password))
	h.Write([]byte(c.challenge))
	if digest != hex.EncodeToString(h.Sum(nil)) {
		return nil, true, errors.New("wrong digest")
	}
	return nil, true, c.check(name, password)
}
