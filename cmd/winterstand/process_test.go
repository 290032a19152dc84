package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/store/storetest"
	"winterstand/internal/trial/catcher"
	"winterstand/internal/trial/patience"
)

func TestMain(m *testing.M) {
	code := storetest.Main(m)
	if built.folder != "" {
		_ = os.RemoveAll(built.folder)
	}
	os.Exit(code)
}

// built is the program under test, built once by the first test that runs it.
var built struct {
	once   sync.Once
	folder string
	err    error
}

// binary is the path of the program as it is shipped.
func binary(t testing.TB) string {
	t.Helper()
	built.once.Do(func() {
		if built.folder, built.err = os.MkdirTemp("", "winterstand-built-"); built.err != nil {
			return
		}
		out, err := exec.Command("go", "build", "-o", filepath.Join(built.folder, "winterstand"), ".").CombinedOutput()
		if err != nil {
			built.err = fmt.Errorf("go build: %w: %s", err, out)
		}
	})
	require.NoError(t, built.err)
	return filepath.Join(built.folder, "winterstand")
}

// installation is a settings file with a database beside it, and a mail server
// and text gateway that keep what arrives.
type installation struct {
	*testing.T
	folder string
	file   string // settings
	now    time.Time
	caught *catcher.Catcher
	line   *slow // between the program and the servers it sends by
	token  string
}

// install writes settings for a forecast service at a local address; more is
// appended. An empty database is an embedded one.
func install(t *testing.T, forecastURL, database string, now time.Time, more string) *installation {
	t.Helper()
	in := &installation{T: t, folder: t.TempDir(), now: now, line: &slow{}}
	var err error
	in.caught, err = catcher.Start(t.Context(), catcher.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, in.caught.Close()) })
	if database == "" {
		database = "sqlite:" + filepath.Join(in.folder, "book.db")
	}
	in.file = filepath.Join(in.folder, "winterstand.toml")
	in.write(fmt.Sprintf(`database = %q
listen = "127.0.0.1:0"
public_url = "http://farm.test"
[forecast]
sources = ["nws"]
[forecast.nws]
base_url = %q
contact = "test@farm.test"
[mail]
host = "127.0.0.1"
port = %d
from = "notices@farm.test"
tls = "none"
[sms]
url = %q
headers = { Content-Type = "application/json" }
body = '{"to": {{json .To}}, "text": {{json .Text}}}'
%s`, database, forecastURL, in.line.mail(t, in.caught.SMTPAddr()), in.line.gateway(t, in.caught.GatewayURL()), more))
	return in
}

func (in *installation) write(settings string) {
	in.Helper()
	require.NoError(in, os.WriteFile(in.file, []byte(settings), 0o600))
}

// command is the program with this installation's settings and clock.
func (in *installation) command(args ...string) *exec.Cmd {
	in.Helper()
	c := exec.Command(binary(in), append(args, "--settings", in.file)...)
	c.Dir = in.folder
	for _, kv := range os.Environ() {
		if !strings.HasPrefix(kv, "WINTERSTAND_") {
			c.Env = append(c.Env, kv)
		}
	}
	if !in.now.IsZero() {
		c.Env = append(c.Env, "WINTERSTAND_NOW="+in.now.Format(time.RFC3339))
	}
	return c
}

// ran is what a finished command left.
type ran struct {
	code     int
	out, err string
}

// run runs a command to its end.
func (in *installation) run(args ...string) ran {
	in.Helper()
	return in.finish(in.command(args...))
}

func (in *installation) finish(c *exec.Cmd) ran {
	in.Helper()
	var out, errOut bytes.Buffer
	c.Stdout, c.Stderr = &out, &errOut
	err := c.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		in.Fatalf("%v: %v", c.Args, err)
	}
	return ran{c.ProcessState.ExitCode(), out.String(), errOut.String()}
}

// enrol makes the farm and its token.
func (in *installation) enrol() {
	in.Helper()
	r := in.run("token", "--farm", "Test Farm")
	require.Equal(in, 0, r.code, r.err)
	in.token = strings.TrimSpace(r.out)
}

// process is a service at work.
type process struct {
	in      *installation
	command *exec.Cmd
	address string
	log     *logbook
	ended   chan struct{}
}

// logbook keeps what a process says, and tells its address.
type logbook struct {
	mu      sync.Mutex
	text    bytes.Buffer
	serving chan string
	told    bool
}

var servingLine = regexp.MustCompile(`msg=serving address=(\S+)`)

func (l *logbook) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.text.Write(p)
	if m := servingLine.FindSubmatch(l.text.Bytes()); m != nil && !l.told {
		l.told = true
		l.serving <- string(m[1])
	}
	return len(p), nil
}

func (l *logbook) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// serve starts the service and waits until it listens.
func (in *installation) serve() *process {
	in.Helper()
	p := &process{in: in, command: in.command("serve"), log: &logbook{serving: make(chan string, 1)}, ended: make(chan struct{})}
	p.command.Stderr = p.log
	require.NoError(in, p.command.Start())
	go func() { _ = p.command.Wait(); close(p.ended) }()
	in.Cleanup(p.kill)
	patience.Until(in, p.listens, "serve, that it listens: %s", p.log)
	return p
}

// listens tells whether the process has said its address.
func (p *process) listens() bool {
	p.in.Helper()
	select {
	case p.address = <-p.log.serving:
		return true
	case <-p.ended:
		p.in.Fatalf("serve ended: %s", p.log)
	default:
	}
	return false
}

// kill ends the process without a word, as a power cut does.
func (p *process) kill() {
	_ = p.command.Process.Kill() // it may have ended
	<-p.ended
}

// stop asks the process to end and gives its exit code.
func (p *process) stop() int {
	p.in.Helper()
	require.NoError(p.in, p.command.Process.Signal(os.Interrupt))
	patience.For(p.in, p.ended, "serve, that it stops: %s", p.log)
	return p.command.ProcessState.ExitCode()
}

// answer of the HTTP interface.
type answer struct {
	status int
	body   []byte
}

// ask sends one request with the farm's token.
func (p *process) ask(method, path, body string) answer {
	p.in.Helper()
	return p.askAs(method, path, "application/json", body)
}

func (p *process) askAs(method, path, kind, body string) answer {
	p.in.Helper()
	r, err := http.NewRequestWithContext(context.Background(), method, p.address+path, strings.NewReader(body))
	require.NoError(p.in, err)
	r.Header.Set("Authorization", "Bearer "+p.in.token)
	if body != "" {
		r.Header.Set("Content-Type", kind)
	}
	res, err := http.DefaultClient.Do(r)
	require.NoError(p.in, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(p.in, err)
	return answer{res.StatusCode, b}
}

// made sends a POST that must succeed and gives the new ID.
func (p *process) made(path, body string) int64 {
	p.in.Helper()
	a := p.ask("POST", path, body)
	require.Equal(p.in, http.StatusCreated, a.status, "%s: %s", path, a.body)
	return idOf(a.body)
}

// idOf is the ID in an answer; 0: none.
func idOf(body []byte) int64 {
	var v struct {
		ID int64 `json:"id"`
	}
	_ = json.Unmarshal(body, &v)
	return v.ID
}

// read decodes an answer that must be 200.
func read[T any](t testing.TB, a answer) T {
	t.Helper()
	require.Equal(t, http.StatusOK, a.status, "%s", a.body)
	var v T
	require.NoError(t, json.Unmarshal(a.body, &v))
	return v
}
