package email

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSubjectReadsBack(t *testing.T) {
	characters := rapid.SampledFrom([]rune("abz019 .,:;=?_-–°é\"<>()@[]\\😀ñ%"))
	rapid.Check(t, func(t *rapid.T) {
		m := note()
		m.Subject = strings.TrimSpace(rapid.StringOfN(characters, 1, 200, -1).Draw(t, "subject"))
		raw, err := compose("a@farm.test", m)
		require.NoError(t, err)
		h, _ := read(t, raw)
		assert.Equal(t, m.Subject, decode(t, h.Get("Subject")))
		lines := strings.Split("Subject: "+encodeSubject(m.Subject), "\r\n ")
		assert.False(t, strings.TrimSpace(lines[0]) == "Subject:" && m.Subject != "", "the first line holds something")
		for _, l := range lines {
			if !plainASCII(m.Subject) {
				assert.LessOrEqual(t, len(l), 76, "RFC 2047, 2")
			}
		}
	})
}

// The reference is the e-mail package of Python's standard library, strict.
func TestPythonReadsTheMail(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("python3 is not installed: the message was not read with its email package")
	}
	raw, err := compose("Winterstand <notices@farm.test>", full())
	require.NoError(t, err)
	const script = `
import sys, email, email.policy
m = email.message_from_bytes(sys.stdin.buffer.read(), policy=email.policy.default)
print(m['subject']); print(m['to']); print(m['references'])
for p in m.walk():
    print(p.get_content_type(), p.get_filename(), p.get('content-id'), len(p.defects), sum(len(h.defects) for h in p.values()))
print(m.get_body(('plain',)).get_content().splitlines()[2])`
	cmd := exec.Command(python, "-c", script)
	cmd.Env = append(cmd.Environ(), "PYTHONIOENCODING=utf-8")
	cmd.Stdin = strings.NewReader(string(raw))
	out, err := cmd.Output()
	require.NoError(t, err)
	assert.Equal(t, []string{
		full().Subject, "Åda Núñez <ada@farm.test>", "<e9@farm.test> <n17.r1@farm.test>",
		"multipart/mixed None None 0 0", "multipart/related None None 0 0", "multipart/alternative None None 0 0",
		"text/plain None None 0 0", "text/html None None 0 0", "image/png bed3.png <bed3@farm.test> 0 0", "text/csv plan a.csv None 0 0",
		"Über −6 °C.",
	}, strings.Split(strings.TrimSpace(string(out)), "\n"))
}
