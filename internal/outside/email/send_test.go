package email

import (
	"context"
	"crypto/x509"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func note() Mail {
	return Mail{
		To: "ada@farm.test", ToName: "Ada", Subject: "Bed 3: harvest before Thu 21:00", Text: "Harvest.\n",
		MessageID: "n17.r2@farm.test", Date: time.Date(2026, 11, 12, 14, 0, 0, 0, time.UTC),
	}
}

func send(t *testing.T, s Settings, m Mail) (bool, error) {
	t.Helper()
	sender, err := New(s)
	require.NoError(t, err)
	return sender.Send(context.Background(), m)
}

func TestEveryEncryption(t *testing.T) {
	for _, c := range []struct {
		tls Mode
		how mode
	}{{StartTLS, starttls}, {Implicit, implicit}, {None, unencrypted}} {
		t.Run(string(c.tls), func(t *testing.T) {
			srv := &server{}
			set := srv.start(t, c.how)
			set.TLS = c.tls
			retry, err := send(t, set, note())
			require.NoError(t, err)
			assert.False(t, retry)
			assert.Len(t, srv.arrived(), 1)
		})
	}
}

func TestEveryAuthentication(t *testing.T) {
	for _, c := range []struct {
		offered []string
		how     mode
		tls     Mode
		want    string
	}{
		{[]string{"PLAIN"}, starttls, StartTLS, "PLAIN grower"},
		{[]string{"LOGIN"}, starttls, StartTLS, "LOGIN grower"},
		{[]string{"CRAM-MD5"}, starttls, StartTLS, "CRAM-MD5 grower"},
		{[]string{"PLAIN", "LOGIN", "CRAM-MD5"}, implicit, Implicit, "CRAM-MD5 grower"},
		{[]string{"LOGIN", "PLAIN"}, implicit, Implicit, "PLAIN grower"},
		{[]string{"PLAIN"}, unencrypted, None, "PLAIN grower"},
	} {
		srv := &server{mechanisms: c.offered}
		set := srv.start(t, c.how)
		set.TLS, set.User, set.Password = c.tls, user, password
		_, err := send(t, set, note())
		require.NoError(t, err, "%v", c)
		assert.Equal(t, []string{c.want}, srv.logins)
		assert.Len(t, srv.arrived(), 1)
	}
}

func TestStartTLSIsNotOptional(t *testing.T) {
	srv := &server{}
	retry, err := send(t, srv.start(t, unencrypted), note())
	require.ErrorContains(t, err, "STARTTLS")
	assert.True(t, retry)
	assert.Empty(t, srv.arrived())
}

func TestWrongPasswordMayBeTriedAgain(t *testing.T) {
	srv := &server{mechanisms: []string{"PLAIN"}}
	set := srv.start(t, starttls)
	set.User, set.Password = user, "wrong"
	retry, err := send(t, set, note())
	require.ErrorContains(t, err, "535")
	assert.NotContains(t, err.Error(), "wrong", "no password in an error")
	assert.True(t, retry, "the fault is in the settings, not in the message")
}

func TestServerAnswers(t *testing.T) {
	full := &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 2, 2}, Message: "mailbox full"}
	unknown := &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such user"}
	for _, c := range []struct {
		name  string
		srv   *server
		retry bool
		code  string
	}{
		{"sender, later", &server{onMail: full}, true, "452"},
		{"sender, never", &server{onMail: unknown}, false, "550"},
		{"recipient, later", &server{onRcpt: full}, true, "452"},
		{"recipient, never", &server{onRcpt: unknown}, false, "550"},
		{"message, later", &server{onData: []error{full}}, true, "452"},
		{"message, never", &server{onData: []error{unknown}}, false, "550"},
	} {
		retry, err := send(t, c.srv.start(t, starttls), note())
		require.ErrorContains(t, err, c.code, c.name)
		assert.Equal(t, c.retry, retry, c.name)
		assert.Empty(t, c.srv.arrived(), c.name)
	}
}

// The server has the message, we do not know it: the repeat must be
// recognisable as one.
func TestLineBreaksAfterTheMessage(t *testing.T) {
	srv := &server{drop: 1}
	set := srv.start(t, starttls)
	retry, err := send(t, set, note())
	require.Error(t, err)
	assert.True(t, retry)
	_, err = send(t, set, note())
	require.NoError(t, err)
	mails := srv.arrived()
	require.Len(t, mails, 2)
	for _, m := range mails {
		assert.Contains(t, m, "Message-ID: <n17.r2@farm.test>\r\n")
	}
}

func TestCertificateIsRefused(t *testing.T) {
	for tls, how := range map[Mode]mode{StartTLS: starttls, Implicit: implicit} {
		srv := &server{}
		set := srv.start(t, how)
		set.TLS, set.Roots = tls, x509.NewCertPool()
		retry, err := send(t, set, note())
		require.ErrorContains(t, err, "certificate", "%s", tls)
		assert.True(t, retry)
		assert.Empty(t, srv.arrived())
	}
}

func TestSlowServer(t *testing.T) {
	srv := &server{hang: make(chan struct{}), hangs: make(chan struct{}, 1)}
	set := srv.start(t, starttls)
	t.Cleanup(func() { close(srv.hang) })
	set.Timeout = 300 * time.Millisecond
	retry, err := send(t, set, note())
	require.ErrorContains(t, err, "timeout")
	assert.True(t, retry)
}

func TestServerThatNeverGreets(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	set := Settings{Host: "127.0.0.1", Port: l.Addr().(*net.TCPAddr).Port, From: "a@b.test", TLS: None, Timeout: 200 * time.Millisecond}
	retry, err := send(t, set, note())
	require.ErrorContains(t, err, "timeout")
	assert.True(t, retry)
}

func TestNobodyListens(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	port := l.Addr().(*net.TCPAddr).Port
	require.NoError(t, l.Close())
	retry, err := send(t, Settings{Host: "127.0.0.1", Port: port, From: "a@b.test"}, note())
	require.ErrorContains(t, err, "reach mail server 127.0.0.1:")
	assert.True(t, retry)
}

func TestCancelledHalfWay(t *testing.T) {
	srv := &server{hang: make(chan struct{}), hangs: make(chan struct{}, 1)}
	set := srv.start(t, starttls)
	t.Cleanup(func() { close(srv.hang) })
	sender, err := New(set)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-srv.hangs; cancel() }()
	retry, err := sender.Send(ctx, note())
	require.ErrorIs(t, err, context.Canceled)
	assert.True(t, retry)
}

func TestSettingsThatAreRefused(t *testing.T) {
	good := Settings{Host: "mail.test", From: "a@b.test"}
	require.NoError(t, good.Check())
	for want, change := range map[string]func(*Settings){
		"mail host":     func(s *Settings) { s.Host = "" },
		"mail tls":      func(s *Settings) { s.TLS = "yes" },
		"mail port":     func(s *Settings) { s.Port = 70000 },
		"mail from":     func(s *Settings) { s.From = "nobody" },
		"mail password": func(s *Settings) { s.Password = "x" },
		"unencrypted":   func(s *Settings) { s.User, s.TLS = "u", None },
		"mail timeout":  func(s *Settings) { s.Timeout = -1 },
		"must be an ad": func(s *Settings) { s.From = "A <a@b.test>\r\nBcc: c@d.test" },
	} {
		s := good
		change(&s)
		assert.ErrorContains(t, s.Check(), want)
		_, err := New(s)
		assert.Error(t, err)
	}
}

func TestUnencryptedIsSaidAloud(t *testing.T) {
	assert.Contains(t, Settings{Host: "mail.test", TLS: None}.Warning(), "UNENCRYPTED")
	for _, host := range []string{"localhost", "127.0.0.1", "::1", "[::1]"} {
		assert.Empty(t, Settings{Host: host, TLS: None}.Warning(), host)
	}
	assert.Empty(t, Settings{Host: "mail.test"}.Warning())
}

func TestNothingIsDialledForABadMessage(t *testing.T) {
	srv := &server{}
	m := note()
	m.Subject = "x\r\nBcc: all@farm.test"
	retry, err := send(t, srv.start(t, starttls), m)
	require.ErrorContains(t, err, "subject")
	assert.False(t, retry)
	assert.Empty(t, srv.arrived())
	assert.False(t, strings.Contains(err.Error(), "\r"), "the error itself must not break lines")
}
