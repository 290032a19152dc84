package storetest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// RequireVariable names the environment variable that makes a missing
// PostgreSQL server a failure instead of a skip.
const RequireVariable = "WINTERSTAND_REQUIRE_POSTGRES"

// Main runs the tests of a package and stops the server that they started:
// `func TestMain(m *testing.M) { os.Exit(storetest.Main(m)) }`.
func Main(m *testing.M) int {
	private.stoppable = true
	code := m.Run()
	if err := private.stop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return code
}

// Database is the URL of a new empty database on a private PostgreSQL server,
// which starts with the first call and lives until Main returns. The test is
// skipped where no server is installed, unless RequireVariable is 1.
func Database(t testing.TB) string {
	t.Helper()
	if !private.stoppable {
		t.Fatal("storetest.Database: the package needs a TestMain that calls storetest.Main")
	}
	private.once.Do(private.start)
	switch {
	case errors.Is(private.err, exec.ErrNotFound) && os.Getenv(RequireVariable) != "1":
		t.Skipf("POSTGRESQL IS NOT TESTED: %v; install it, or set %s=1 to make this a failure", private.err, RequireVariable)
	case private.err != nil:
		t.Fatal(private.err)
	}
	name := fmt.Sprintf("test%d", private.made.Add(1))
	private.run(t, "CREATE DATABASE "+name)
	t.Cleanup(func() { private.run(t, "DROP DATABASE "+name+" WITH (FORCE)") })
	return private.url(name)
}

// server is a PostgreSQL in a folder of its own, reached by a socket in it.
type server struct {
	once      sync.Once
	stoppable bool
	err       error
	folder    string
	process   *exec.Cmd
	ended     chan error
	made      atomic.Int64
}

var private server

const superuser = "winterstand"

func (s *server) url(database string) string {
	return "postgres://" + superuser + "@/" + database + "?host=" + url.QueryEscape(s.folder)
}

func (s *server) start() { s.err = s.begin() }

func (s *server) begin() error {
	initdb, postgres, err := binaries()
	if err != nil {
		return err
	}
	who, err := owner()
	if err != nil {
		return err
	}
	if s.folder, err = os.MkdirTemp("", "wspg"); err != nil { // short: a socket's path has at most 107 bytes
		return err
	}
	if who != nil {
		if err := os.Chown(s.folder, int(who.Uid), int(who.Gid)); err != nil {
			return err
		}
	}
	data := filepath.Join(s.folder, "data")
	make := as(who, exec.Command(initdb, "--no-sync", "--auth=trust", "--encoding=UTF8", "--locale=C", "-U", superuser, "-D", data))
	if out, err := make.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w: %s", initdb, err, out)
	}
	// What a test writes need not survive a crash of the machine.
	s.process = as(who, exec.Command(postgres, "-D", data, "-k", s.folder, "-c", "listen_addresses=", "-c", "fsync=off",
		"-c", "synchronous_commit=off", "-c", "full_page_writes=off", "-c", "max_connections=200", "-c", "deadlock_timeout=50ms"))
	s.process.Dir = s.folder
	return s.launch()
}

// launch starts the server and waits until it answers. The kernel ends it with
// the thread that started it, so that thread is held for as long as it runs:
// a test process that is killed leaves no server behind.
func (s *server) launch() error {
	s.ended = make(chan error, 1)
	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		err := s.process.Start()
		started <- err
		if err == nil {
			s.ended <- s.process.Wait()
		}
	}()
	if err := <-started; err != nil {
		return fmt.Errorf("start PostgreSQL: %w", err)
	}
	for {
		err := s.ping()
		if err == nil {
			return nil
		}
		select {
		case end := <-s.ended:
			return fmt.Errorf("PostgreSQL ended while starting: %v: %w", end, err)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (s *server) ping() error {
	conn, err := pgx.Connect(context.Background(), s.url("postgres"))
	if err != nil {
		return err
	}
	return conn.Close(context.Background())
}

func (s *server) run(t testing.TB, statement string) {
	t.Helper()
	ctx := context.Background() // the context of a test has ended when it cleans up
	conn, err := pgx.Connect(ctx, s.url("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, statement); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

func (s *server) stop() error {
	if s.process == nil || s.process.Process == nil {
		return os.RemoveAll(s.folder)
	}
	if err := s.process.Process.Signal(syscall.SIGQUIT); err != nil { // immediate shutdown
		return fmt.Errorf("stop PostgreSQL: %w", err)
	}
	<-s.ended
	return os.RemoveAll(s.folder)
}

// binaries of the server, in the PATH or where Debian keeps them.
func binaries() (initdb, postgres string, err error) {
	initdb, err = binary("initdb")
	if err != nil {
		return "", "", err
	}
	postgres, err = binary("postgres")
	return initdb, postgres, err
}

func binary(name string) (string, error) {
	if path, err := exec.LookPath(name); err == nil {
		return path, nil
	}
	found, err := fs.Glob(os.DirFS("/"), "usr/lib/postgresql/*/bin/"+name)
	if err != nil || len(found) == 0 {
		return "", fmt.Errorf("%s is neither in PATH nor in /usr/lib/postgresql/*/bin: %w", name, exec.ErrNotFound)
	}
	return "/" + found[len(found)-1], nil
}

// owner is who the server runs as: PostgreSQL refuses to be root. nil: as we are.
func owner() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		u, err = user.Lookup("nobody")
	}
	if err != nil {
		return nil, fmt.Errorf("PostgreSQL cannot run as root, and there is neither a user postgres nor nobody: %w", err)
	}
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, err
}

func as(who *syscall.Credential, c *exec.Cmd) *exec.Cmd {
	c.SysProcAttr = &syscall.SysProcAttr{Credential: who, Pdeathsig: syscall.SIGQUIT}
	c.Dir = "/"
	return c
}
