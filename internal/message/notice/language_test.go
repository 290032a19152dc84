package notice_test

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/phrase/phrasetest"
	"winterstand/internal/unit"
)

var markup = regexp.MustCompile(`(?s)<style.*?</style>|<[^>]*>`)

// A reader of a language that only a phrase file knows reads nothing else: not
// in a mail, its HTML, its subject or a text message, whatever is told.
func TestEveryNoticeIsSaidByThePhrasesAlone(t *testing.T) {
	for _, units := range []unit.System{unit.US, unit.Metric} {
		s := phrase.Speaker{Book: phrasetest.Book(t), Language: phrasetest.Language, Units: units, Zone: chicago}
		for _, x := range situations() {
			x.facts.Cautions = crop.Cautions()
			l, err := notice.Compose(s, []notice.Facts{x.facts}, links, read, nil)
			require.NoError(t, err, x.name)
			data := []string{"Hill Farm", "Low field", "Cellar", "B12", "chard", "carrot", "Ann", "number unknown", "Freeze Warning", "Wind Advisory", "NWS Duluth",
				"NOAA/NWS, public domain", "lb/ft2", "NWS", "winterstand", "metno", "Service Unavailable", "temperature", "furlong"}
			for part, text := range map[string]string{"subject": l.Subject, "text": l.Text, "HTML": markup.ReplaceAllString(l.HTML, " "), "SMS": l.SMS} {
				assert.Empty(t, phrasetest.Stray(text, data...), "%s, %s: %s", x.name, part, text)
			}
		}
	}
}
