package main

import (
	"bufio"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/notice"
	"winterstand/internal/trial/patience"
	"winterstand/internal/trial/rehearsal"
)

// demo starts the demo in an empty folder for temporary files.
func demo(t *testing.T, args ...string) (*exec.Cmd, *bufio.Scanner, string) {
	t.Helper()
	folder := t.TempDir()
	c := exec.CommandContext(patience.Context(t, 2, "the demo"), binary(t), append([]string{"demo"}, args...)...)
	c.Dir = folder
	c.Env = append(os.Environ(), "TMPDIR="+folder)
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	c.Stderr = os.Stderr
	require.NoError(t, c.Start())
	t.Cleanup(func() {
		_ = c.Process.Kill() // it may have ended
		_ = c.Wait()
	})
	return c, bufio.NewScanner(out), folder
}

// leave interrupts the demo and checks that it leaves nothing behind.
func leave(t *testing.T, c *exec.Cmd, folder string) {
	t.Helper()
	require.NoError(t, c.Process.Signal(os.Interrupt))
	_ = c.Wait() // an interrupted winter is a failure, an interrupted show is not
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left, "what the demo kept is gone with it")
}

func TestTheDemoPrintsNoticesAsTheyLeave(t *testing.T) {
	t.Parallel()
	c, out, folder := demo(t, "--once", "--json")
	for range 2 {
		require.True(t, out.Scan(), "no notice came")
		var line map[string]any
		require.NoError(t, json.Unmarshal(out.Bytes(), &line), "%s", out.Text())
		t.Log(out.Text())
		assert.Equal(t, "notice", line["event"])
		for _, key := range []string{"kind", "bed", "crop", "harvest_before", "likelihood", "reason", "channels", "issued_at"} {
			assert.NotEmpty(t, line[key], key)
		}
		assert.ElementsMatch(t, []any{"email", "sms"}, line["channels"])
		for _, key := range []string{"harvest_before", "issued_at"} {
			_, err := time.Parse(time.RFC3339, line[key].(string))
			assert.NoError(t, err, key)
		}
		chance := line["likelihood"].(float64)
		assert.True(t, chance > 0 && chance <= 1, chance)
	}
	leave(t, c, folder)
}

var address = regexp.MustCompile(`http://127\.0\.0\.1:\d+/`)

func TestTheDemoShowsANotice(t *testing.T) {
	t.Parallel()
	began := time.Now()
	c, out, folder := demo(t, "--listen", "127.0.0.1:0")
	pages := ""
	for out.Scan() {
		line := out.Text()
		if strings.Contains(line, "pages") {
			pages = address.FindString(line)
		}
		if strings.Contains(line, "email to") || strings.Contains(line, "sms") && strings.Contains(line, " to ") {
			t.Logf("after %.1f s: %s", time.Since(began).Seconds(), line)
			break
		}
	}
	require.NotEmpty(t, pages)
	res, err := http.Get(pages)
	require.NoError(t, err)
	res.Body.Close()
	assert.Equal(t, http.StatusOK, res.StatusCode)
	leave(t, c, folder)
	assert.Equal(t, 0, c.ProcessState.ExitCode())
}

// TestASnapIsPlayedThrough plays the days round the story's cold snap: a grower
// who answers is told in time and loses nothing.
func TestASnapIsPlayedThrough(t *testing.T) {
	t.Parallel()
	stage, err := rehearsal.Raise(t.Context(), rehearsal.Options{Winter: rehearsal.Story(), From: rehearsal.Eve, Listen: "127.0.0.1:0",
		Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, stage.Strike()) })
	require.NoError(t, stage.Remember(t.Context(), rehearsal.Story(), rememberedDays))
	var told []rehearsal.Told
	player := rehearsal.Player{Stage: stage, Step: playStep, Until: rehearsal.Eve.AddDate(0, 0, 4), Say: func(n rehearsal.Told) {
		told = append(told, n)
		t.Log(toldText(n))
	}}
	sum, err := player.Play(t.Context())
	require.NoError(t, err)
	t.Log(summaryText(sum))
	assert.Equal(t, len(told), sum.Notices)
	assert.Positive(t, sum.ByKind[notice.HarvestBefore])
	assert.Positive(t, sum.Harvested)
	assert.Zero(t, sum.Repeats)
	assert.Zero(t, sum.Lost, "everybody was told in time")
	assert.Equal(t, "summary", sum.Event)
	for _, m := range stage.Catcher.Mails() {
		assert.Empty(t, m.Problem)
		assert.NotRegexp(t, `[{}]`, m.Subject+m.Text, "no name is left unfilled")
	}
	for _, m := range stage.Catcher.Texts() {
		assert.NotRegexp(t, `[{}]`, m.Text)
		assert.LessOrEqual(t, len(m.Text), 306, "two segments at most")
	}
}
