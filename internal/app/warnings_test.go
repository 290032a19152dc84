package app_test

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/notice"
	"winterstand/internal/trial/standin"
)

var relativeDate = regexp.MustCompile(`"date:now ([+-]\d+) minutes"`)

// realWarnings is a list that api.weather.gov gave in December 2025, with its
// times laid around a moment. It holds a watch once upgraded and once cancelled,
// which the service still lists.
func realWarnings(t *testing.T, now time.Time) []byte {
	t.Helper()
	folder := os.Getenv("WINTERSTAND_CORPUS")
	if folder == "" {
		t.Skip("SKIPPED: WINTERSTAND_CORPUS is not set to the folder of test data")
	}
	body, err := os.ReadFile(filepath.Join(folder, "forecasts", "nws", "alerts_freeze_subset_relative_dates.json"))
	require.NoError(t, err)
	return relativeDate.ReplaceAllFunc(body, func(m []byte) []byte {
		n, err := strconv.Atoi(string(relativeDate.FindSubmatch(m)[1]))
		require.NoError(t, err)
		return fmt.Appendf(nil, "%q", now.Add(time.Duration(n)*time.Minute).Format(time.RFC3339))
	})
}

// warned lets the stand-in answer with fixed bytes when it is asked for warnings.
func (w *world) warned(body []byte) {
	w.front.answer(func(rw http.ResponseWriter, r *http.Request, behind http.Handler) {
		if r.URL.Path != "/alerts/active" {
			behind.ServeHTTP(rw, r)
			return
		}
		rw.Header().Set("Content-Type", "application/geo+json")
		_, _ = rw.Write(body)
	})
}

func TestRealWarningsStandInMessages(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	now := w.clock.Now()
	w.warned(realWarnings(t, now))
	o := w.round()
	require.Equal(t, []string{notice.HarvestBefore}, kinds(o.Notices))
	got := map[string]int{}
	for _, a := range w.facts(o.Notices[0]).Alerts {
		got[a.Event+", "+a.Sender]++
	}
	assert.Equal(t, map[string]int{
		"Freeze Warning, NWS Tallahassee FL": 1, "Freeze Warning, NWS Jacksonville FL": 1, "Winter Storm Watch, NWS Great Falls MT": 1,
		"Cold Weather Advisory, NWS Charleston SC": 1, "Cold Weather Advisory, NWS Juneau AK": 1,
	}, got, "the watch that was upgraded and cancelled has gone")
	mail := w.lastMail()
	assert.Contains(t, mail.Text, "Official warning in force: Freeze Warning until Tue 4 Nov 4:05 am CST, NWS Tallahassee FL.", "event, end and who says so")
	assert.NotContains(t, mail.Text, "Freeze Watch")
}

func TestAWarningAsTheStandInGivesIt(t *testing.T) {
	var warning standin.Warning
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	now := w.clock.Now()
	warning = standin.Warning{Event: "Freeze Warning", Phenomenon: "FZ", Significance: "W", Number: 3, Sent: now.Add(-time.Hour),
		Onset: now.Add(80 * time.Hour), Ends: now.Add(92 * time.Hour), Headline: "Freeze Warning issued"}
	server := standin.New(standin.Options{Places: []standin.Place{place}, Now: w.clock.Now, Forecast: w.sky.forecast,
		Warnings: func(standin.Place, time.Time) []standin.Warning { return []standin.Warning{warning} }})
	w.front.answer(func(rw http.ResponseWriter, r *http.Request, behind http.Handler) {
		if r.URL.Path == "/alerts/active" {
			behind = server
		}
		behind.ServeHTTP(rw, r)
	})
	w.round()
	assert.Contains(t, w.lastMail().Text, "Official warning in force: Freeze Warning until Fri 7 Nov 8:00 am CST, NWS TST (stand-in).")
	texts := w.caught.Texts()
	assert.Contains(t, texts[len(texts)-1].Text, "Official: Freeze Warning until Fri 7 Nov 8:00 am CST.")

	// Cancelled under the same number, it vanishes with the next notice.
	warning.Action, warning.Sent = "CAN", now.Add(time.Hour)
	w.clock.Add(2 * time.Hour)
	w.bed("A2", "chard")
	w.round()
	require.Contains(t, w.lastMail().Subject, "A2")
	assert.NotContains(t, w.lastMail().Text, "Official warning")
}

func TestWarningsThatCannotBeAskedForAreRepeatedForAWhileOnly(t *testing.T) {
	w := newWorld(t)
	w.ann()
	w.bed("A1", "chard")
	w.snap()
	ends := w.clock.Now().Add(80 * time.Hour)
	w.warned(fmt.Appendf(nil, `{"features":[{"properties":{"id":"broken","sent":"soon"}},{"properties":{"id":"a","sent":%[1]q,"effective":%[1]q,"expires":%[2]q,
		"status":"Actual","messageType":"Alert","event":"Hard Freeze Warning","senderName":"NWS TST","parameters":{"VTEC":["/O.NEW.KTST.HZ.W.0001.251103T1800Z-251107T0200Z/"]}}}]}`,
		w.clock.Now().Format(time.RFC3339), ends.Format(time.RFC3339)))
	w.round()
	assert.Contains(t, w.lastMail().Text, "Hard Freeze Warning", "one that cannot be read hides no other")
	w.warned([]byte("<html>"))
	w.clock.Add(2 * time.Hour)
	w.bed("A2", "chard")
	w.round()
	assert.Contains(t, w.lastMail().Text, "Hard Freeze Warning")
	w.clock.Add(2 * time.Hour)
	w.bed("A3", "chard")
	w.round()
	require.Contains(t, w.lastMail().Subject, "A3")
	assert.NotContains(t, w.lastMail().Text, "Hard Freeze Warning")
}
