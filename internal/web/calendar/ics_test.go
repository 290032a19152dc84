package calendar

import (
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// odd are texts that break calendars which fold or escape wrongly.
var odd = rapid.OneOf(
	rapid.StringOf(rapid.SampledFrom([]rune(`ab ,;:\"'<>=nN-|`+"\n\r\té🥕ñ°ø中́\u2028\u0085\x00\x1b"))),
	rapid.StringN(0, 200, -1),
	rapid.Custom(func(t *rapid.T) string {
		return strings.Repeat(rapid.SampledFrom([]string{"🥕", "é", "x", ", ", `\n`, "; "}).Draw(t, "piece"), rapid.IntRange(1, 90).Draw(t, "times"))
	}),
)

func sample(name string) Event {
	return Event{UID: "u1", Created: noon, Modified: noon, Start: noon, End: noon.Add(time.Hour), Summary: name,
		Description: []string{name, "and " + name}, Location: name, Alarms: alarms}
}

// value of a property in an unfolded calendar, unescaped as RFC 5545, 3.3.11, says.
func value(t require.TestingT, unfolded, name string) string {
	for line := range strings.SplitSeq(unfolded, "\r\n") {
		if v, ok := strings.CutPrefix(line, name+":"); ok {
			var b strings.Builder
			for i := 0; i < len(v); i++ {
				if v[i] != '\\' {
					b.WriteByte(v[i])
					continue
				}
				i++
				require.Less(t, i, len(v), "a backslash stands alone: %q", v)
				switch v[i] {
				case 'n', 'N':
					b.WriteByte('\n')
				case '\\', ';', ',':
					b.WriteByte(v[i])
				default:
					require.Fail(t, "unknown escape", "%q", v)
				}
			}
			return b.String()
		}
	}
	require.Fail(t, "no property", name)
	return ""
}

// RFC 5545, 3.1: lines of at most 75 octets without their CRLF, continued by a
// space; no character is parted; nothing of the text is lost or adds lines.
func TestAnyNameIsFoldedAndEscaped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := odd.Draw(t, "name")
		text := string(Write(Head{Name: name, About: name, Language: "en"}, []Event{sample(name)}))
		require.True(t, strings.HasSuffix(text, "END:VCALENDAR\r\n"))
		lines := strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n")
		for _, line := range lines {
			require.LessOrEqual(t, len(line), 75, "%q", line)
			require.True(t, utf8.ValidString(line), "%q", line)
			require.False(t, strings.ContainsFunc(line, unicode.IsControl), "%q", line)
			require.NotEmpty(t, line)
		}
		unfolded := strings.ReplaceAll(text, "\r\n ", "")
		require.Equal(t, oneLine(name), value(t, unfolded, "X-WR-CALNAME"))
		require.Equal(t, oneLine(name), value(t, unfolded, "SUMMARY"))
		require.Equal(t, clean(name+"\n\nand "+name), value(t, unfolded, "DESCRIPTION"))
		require.Equal(t, 1, strings.Count(unfolded, "BEGIN:VEVENT"))
	})
}

// The same by ical.js of the Node registry.
func TestOddNamesAsAnotherProgramReadsThem(t *testing.T) {
	names := []string{`A, B; C\D`, "Row 1:\nleft", "🥕🥕 carrots", "end\\", `\n`, "\\,;", strings.Repeat("ñandú ", 40), " spaces ", `"quoted"`, "BEGIN:VEVENT", "a<b>c"}
	for seed := range 150 {
		names = append(names, odd.Example(seed))
	}
	var events []Event
	for _, name := range names {
		if oneLine(name) != "" {
			events = append(events, sample(name))
		}
	}
	got := parse(t, string(Write(Head{Name: "Hill, Farm", Language: "en"}, events))).Events
	require.Len(t, got, len(events))
	for i, e := range events {
		assert.Equal(t, oneLine(e.Summary), got[i].Summary, "%q", e.Summary)
		assert.Equal(t, oneLine(e.Location), got[i].Location)
		assert.Equal(t, clean(strings.Join(e.Description, "\n\n")), got[i].Description)
	}
}

func TestTheSameEntriesGiveTheSameBytes(t *testing.T) {
	a, b := Write(Head{Name: "x"}, []Event{sample("A1")}), Write(Head{Name: "x"}, []Event{sample("A1")})
	assert.Equal(t, a, b)
	assert.Contains(t, string(a), "DTSTART:20261116T180000Z\r\n")
	assert.Contains(t, string(a), "TRIGGER:-PT12H\r\n")
	assert.Contains(t, string(a), "REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n")
}
