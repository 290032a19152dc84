package browsertest

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/trial/chromium"
	"winterstand/internal/trial/rehearsal"
)

// remembered are the days of past weather that the demo's farm has.
const remembered = 60

func TestMain(m *testing.M) {
	os.Exit(chromium.Main(m))
}

// notInShort leaves out what takes long; the newcomer's way is always gone.
func notInShort(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("NOT CHECKED with -short")
	}
}

// raise builds the demo's farm at a moment of its story, with all that it needs
// on this machine.
func raise(t testing.TB, from time.Time) *rehearsal.Stage {
	t.Helper()
	chromium.Need(t)
	said := &said{}
	log := slog.New(slog.NewTextHandler(said, &slog.HandlerOptions{Level: slog.LevelError}))
	s, err := rehearsal.Raise(t.Context(), rehearsal.Options{Winter: rehearsal.Story(), From: from, Listen: "127.0.0.1:0", Log: log})
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, s.Strike())
		assert.Empty(t, said.lines(), "errors in the service's log")
	})
	require.NoError(t, s.Remember(t.Context(), rehearsal.Story(), remembered))
	return s
}

// serve runs the service until the test ends.
func serve(t testing.TB, s *rehearsal.Stage) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- s.Service.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-served)
	})
}

// address of a page.
func address(s *rehearsal.Stage, path string) string { return "http://" + s.Service.Address() + path }

// ownFarm makes another farm on the same service and gives its token.
func ownFarm(t testing.TB, s *rehearsal.Stage, name string) (int64, string) {
	t.Helper()
	made, err := s.Service.Commands.MakeToken(t.Context(), name, farm.ScopeWrite)
	require.NoError(t, err)
	return made.Farm.ID, made.Token
}

// said keeps a log's lines.
type said struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.Write(p)
}

func (s *said) lines() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return strings.FieldsFunc(s.buf.String(), func(r rune) bool { return r == '\n' })
}
