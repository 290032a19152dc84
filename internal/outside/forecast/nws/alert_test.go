package nws

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/forecast"
)

// saved is when the subset of alerts was kept ("@saved" in the document).
var saved = time.Date(2025, 12, 15, 21, 55, 0, 0, time.UTC)

var relative = regexp.MustCompile(`"date:now ([+-]\d+) minutes"`)

// realAlerts is the document with its relative dates made real.
func realAlerts(t *testing.T) []byte {
	return relative.ReplaceAllFunc(corpus(t, "nws/alerts_freeze_subset_relative_dates.json"), func(m []byte) []byte {
		n, err := strconv.Atoi(string(relative.FindSubmatch(m)[1]))
		require.NoError(t, err)
		return fmt.Appendf(nil, "%q", saved.Add(time.Duration(n)*time.Minute).Format(time.RFC3339))
	})
}

func TestRealAlerts(t *testing.T) {
	alerts, err := ParseAlerts(realAlerts(t), saved)
	require.NoError(t, err)
	keys := map[string]forecast.Alert{}
	freezes := 0
	for _, a := range alerts {
		keys[a.Key] = a
		if a.Event == "Freeze Warning" {
			freezes++
		}
		assert.NotEqual(t, "Freeze Watch", a.Event, "upgraded or cancelled")
		assert.Equal(t, Credit, a.Credit)
	}
	assert.Equal(t, 2, freezes)
	assert.Len(t, alerts, 5)
	tae := keys["KTAE.FZ.W.0013"]
	assert.Equal(t, "NWS Tallahassee FL", tae.Office)
	assert.Equal(t, time.Date(2025, 12, 16, 6, 0, 0, 0, time.UTC), tae.Onset, "as its VTEC says")
	assert.Equal(t, time.Date(2025, 12, 16, 14, 0, 0, 0, time.UTC), tae.Ends)
	assert.NotEmpty(t, tae.Instruction)
	storm := keys["KTFX.WS.A.0020"]
	assert.Equal(t, 3365*time.Minute, storm.Ends.Sub(saved), "the event's end, not the product's expiry")
	for i := 1; i < len(alerts); i++ {
		assert.False(t, alerts[i].Onset.Before(alerts[i-1].Onset), "the next to begin first")
	}
	later, err := ParseAlerts(realAlerts(t), saved.Add(1000*time.Minute))
	require.NoError(t, err)
	assert.Len(t, later, 2, "the others have ended")
}

// As it stands the document has relative dates: an error names each, and
// nothing of it counts.
func TestRelativeDatesAreAnError(t *testing.T) {
	alerts, err := ParseAlerts(corpus(t, "nws/alerts_freeze_subset_relative_dates.json"), saved)
	assert.Empty(t, alerts)
	assert.ErrorContains(t, err, `features[0].properties.sent: "date:now -3 minutes"`)
}

// listed is an alert with a VTEC string; edit changes its members.
func listed(action, sent string, edit ...string) string {
	m := map[string]any{
		"id": "urn:" + action + sent, "sent": sent, "effective": sent, "onset": "2026-01-12T06:00:00Z", "expires": "2026-01-12T10:00:00Z",
		"ends": "2026-01-12T14:00:00Z", "status": "Actual", "messageType": "Alert", "urgency": "Expected", "event": "Freeze Warning",
		"parameters": map[string]any{"VTEC": []string{"/O." + action + ".KMPX.FZ.W.0001.260112T0600Z-260112T1400Z/"}},
	}
	for i := 0; i+1 < len(edit); i += 2 {
		var v any
		if err := json.Unmarshal([]byte(edit[i+1]), &v); err != nil {
			panic(err)
		}
		m[edit[i]] = v
	}
	b, err := json.Marshal(m)
	if err != nil {
		panic(err)
	}
	return `{"properties":` + string(b) + `}`
}

func list(alerts ...string) []byte {
	return []byte(`{"features":[` + strings.Join(alerts, ",") + `]}`)
}

const early, late = "2026-01-11T20:00:00Z", "2026-01-11T22:00:00Z"

var evening = time.Date(2026, 1, 11, 23, 0, 0, 0, time.UTC)

func TestWhatIsInForce(t *testing.T) {
	for action, kept := range map[string]bool{
		"NEW": true, "CON": true, "EXT": true, "EXA": true, "EXB": true, "COR": true,
		"UPG": false, "CAN": false, "EXP": false, "ROU": false,
	} {
		alerts, err := ParseAlerts(list(listed(action, early)), evening)
		require.NoError(t, err)
		assert.Equal(t, kept, len(alerts) == 1, action)
	}
	for _, c := range []struct {
		name  string
		alert string
		kept  bool
	}{
		{"a test message", listed("NEW", early, "status", `"Test"`), false},
		{"a cancelling message", listed("NEW", early, "messageType", `"Cancel"`), false},
		{"test VTEC", listed("NEW", early, "parameters", `{"VTEC":["/T.NEW.KMPX.FZ.W.0001.260112T0600Z-260112T1400Z/"]}`), false},
		{"ended", listed("NEW", early, "ends", `"2026-01-11T22:59:00Z"`), false},
		{"no end: the product's expiry", listed("NEW", early, "ends", `null`), true},
		{"no end, expired", listed("NEW", early, "ends", `null`, "expires", `"2026-01-11T22:00:00Z"`), false},
		{"no onset", listed("NEW", early, "onset", `null`), true},
		{"until further notice", listed("NEW", early, "parameters", `{"VTEC":["/O.EXT.PAJK.CW.Y.0008.000000T0000Z-260114T1500Z/"]}`), true},
		{"no VTEC", listed("NEW", early, "parameters", `{}`), true},
		{"no VTEC and past", listed("NEW", early, "parameters", `{}`, "urgency", `"Past"`), false},
		{"malformed VTEC", listed("NEW", early, "parameters", `{"VTEC":["/O.NEW/"]}`), true},
		{"upgraded into another of the same product", listed("NEW", early, "parameters", `{"VTEC":["/O.UPG.KMPX.FZ.A.0001.260112T0600Z-260112T1400Z/","/O.NEW.KMPX.FZ.W.0002.260112T0600Z-260112T1400Z/"]}`), true},
		{"an instruction of null", listed("NEW", early, "instruction", `null`), true},
	} {
		t.Run(c.name, func(t *testing.T) {
			alerts, err := ParseAlerts(list(c.alert), evening)
			require.NoError(t, err)
			assert.Equal(t, c.kept, len(alerts) == 1)
		})
	}
}

func TestTheLastWordOnAnEventCounts(t *testing.T) {
	for _, c := range []struct {
		name string
		list []byte
		want int
	}{
		{"issued again under a new id", list(listed("NEW", early), listed("CON", late)), 1},
		{"cancelled after", list(listed("NEW", early), listed("CAN", late)), 0},
		{"cancelled after, in the other order", list(listed("CAN", late), listed("NEW", early)), 0},
		{"cancelled and at once in force", list(listed("CAN", late), listed("NEW", late)), 1},
		{"two events", list(listed("NEW", early), listed("NEW", early, "parameters", `{"VTEC":["/O.NEW.KMPX.FZ.W.0002.260112T0600Z-260112T1400Z/"]}`)), 2},
	} {
		alerts, err := ParseAlerts(c.list, evening)
		require.NoError(t, err)
		assert.Len(t, alerts, c.want, c.name)
	}
}

func TestOneBrokenAlertDoesNotHideTheOthers(t *testing.T) {
	alerts, err := ParseAlerts(list(listed("NEW", early, "onset", `"soon"`), listed("NEW", early)), evening)
	assert.Len(t, alerts, 1)
	assert.ErrorContains(t, err, `features[0].properties.onset: "soon"`)
	for _, body := range []string{``, `[]`, `{"features":7}`} {
		_, err := ParseAlerts([]byte(body), evening)
		assert.Error(t, err, body)
	}
	alerts, err = ParseAlerts([]byte(`{"features":null}`), evening)
	assert.NoError(t, err)
	assert.Empty(t, alerts)
}

func FuzzAlerts(f *testing.F) {
	f.Add(list(listed("NEW", early), listed("CAN", late)))
	f.Fuzz(func(t *testing.T, body []byte) {
		alerts, _ := ParseAlerts(body, evening)
		for _, a := range alerts {
			if !a.Ends.IsZero() && !a.Ends.After(evening) {
				t.Fatalf("%+v", a)
			}
		}
	})
}
