package internal_test

import (
	"encoding/json"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wing is rooms that stand on one level. A room may import rooms of its own wing and
// of wings above it in this list, which lie below it in the house.
type wing struct {
	name, is string
	rooms    []room
}

// room is a package with the packages of this module it imports, no more and no
// less, and why it stands where it stands.
type room struct{ name, imports, why string }

// layers list every package. Imports point down only.
var layers = []wing{
	{"values", "values: no I/O, no clock", []room{
		{"config", "", "the catalogues' files"},
		{"migrations", "", "the schema's files"},
		{"internal/unit", "", "the quantities all speak in"},
		{"internal/weather", "unit", "hours and forecasts as values"},
		{"internal/crop", "config unit", "what each crop stands"},
		{"internal/timezone", "", "the zone of a point on the globe"},
		{"internal/farm", "crop timezone unit", "the nouns, the verdict and what was told"},
		{"internal/forecast", "farm unit weather", "what a forecast source is"},
	}},
	{"science", "values in, values out", []room{
		{"internal/science/hardiness", "crop unit", "how the tolerance moves, and injury"},
		{"internal/science/microclimate", "unit weather", "the bed's own climate"},
		{"internal/science/bed", "crop farm science/hardiness science/microclimate unit weather", "a bed's life, hour by hour"},
		{"internal/science/teach", "unit", "what findings say of the tolerance"},
		{"internal/science/verdict", "crop farm science/bed science/microclimate unit weather", "the verdict"},
		{"internal/science/skill", "farm unit", "how verdicts did"},
		{"internal/science/weatherfile", "farm science/microclimate unit weather", "reads weather files from a reader"},
		{"internal/science/season", "crop farm science/bed science/hardiness science/microclimate science/weatherfile unit weather", "past winters"},
	}},
	{"storage", "the life of what is lifted", []room{
		{"internal/storage/keeping", "config crop farm unit", "the life of lots"},
		{"internal/storage/lifting", "farm unit", "what to lift when"},
		{"internal/storage/supply", "farm unit", "what runs out when"},
	}},
	{"message", "is it due, and every word", []room{
		{"internal/message/gsm7", "", "the alphabet of short messages"},
		{"internal/message/link", "", "links that cannot be guessed"},
		{"internal/message/phrase", "farm unit", "every sentence"},
		{"internal/message/phrase/phrasetest", "message/phrase", "a made-up language, for tests"},
		{"internal/message/reply", "farm message/phrase unit", "what people text back"},
		{"internal/message/picture", "crop farm message/phrase unit", "the drawing of a bed"},
		{"internal/message/notice", "crop farm message/gsm7 message/phrase science/microclimate unit", "is it due, and its words"},
	}},
	{"store", "the book", []room{
		{"internal/store", "farm unit weather", "what is kept, and its promises"},
		{"internal/store/book", "farm store store/row unit weather", "every query, once"},
		{"internal/store/postgres", "migrations store store/book store/row store/schema", "the book on a server"},
		{"internal/store/row", "unit weather", "columns and members"},
		{"internal/store/schema", "", "migrations of both stores"},
		{"internal/store/sqlite", "migrations store store/book store/row store/schema", "the embedded book"},
		{"internal/store/storetest", "farm store unit weather", "what every store must do"},
	}},
	{"service", "decides the order, is given the time", []room{
		{"internal/service/announce", "farm message/notice store", "writes notices and addresses them"},
		{"internal/service/commands", "crop farm message/notice message/phrase science/microclimate store unit", "what people may enter and change"},
		{"internal/service/deliver", "farm message/link message/notice message/phrase store unit", "messages until they arrive"},
		{"internal/service/inbound", "farm message/gsm7 message/notice message/phrase message/reply service/announce service/commands service/deliver store unit", "answers by text message"},
		{"internal/service/learn", "farm science/bed science/teach service/scene store", "what findings teach"},
		{"internal/service/letters", "farm message/notice service/announce service/plan storage/keeping store unit", "weekly word, lots, rooms"},
		{"internal/service/plan", "crop farm message/phrase science/bed science/microclimate science/season science/skill science/weatherfile storage/keeping storage/lifting storage/supply store unit", "plan, stores, supply and seasons from the book"},
		{"internal/service/round", "farm forecast message/notice service/announce service/learn service/scene store unit weather", "one round: ask, judge, decide, write"},
		{"internal/service/scene", "crop farm forecast science/bed science/hardiness science/microclimate science/verdict store unit weather", "what a round has before it"},
		{"internal/service/schedule", "store", "jobs"},
		{"internal/service/score", "farm science/bed science/verdict service/scene store unit", "how verdicts turned out"},
	}},
	{"web", "pages and programs", []room{
		{"internal/web/api", "crop farm message/notice message/phrase science/season science/skill service/commands service/plan storage/keeping storage/lifting storage/supply store unit", "HTTP API"},
		{"internal/web/calendar", "farm message/notice message/phrase store", "the calendar feed"},
		{"internal/web/page", "farm message/link message/notice message/phrase message/picture science/microclimate science/season science/skill service/announce service/commands service/deliver service/plan service/round service/scene storage/keeping storage/lifting storage/supply store unit web/calendar", "pages for people"},
	}},
	{"outside", "one outside thing each", []room{
		{"internal/outside/email", "", "SMTP"},
		{"internal/outside/forecast/fetch", "forecast unit weather", "the manners all sources share"},
		{"internal/outside/forecast/metno", "forecast outside/forecast/fetch unit weather", "MET Norway"},
		{"internal/outside/forecast/nws", "forecast outside/forecast/fetch unit weather", "US National Weather Service"},
		{"internal/outside/forecast/openmeteo", "forecast outside/forecast/fetch unit weather", "Open-Meteo"},
		{"internal/outside/serving", "", "a server begins once and ends once"},
		{"internal/outside/settings", "", "one strict file and the environment"},
		{"internal/outside/sms", "message/reply", "an HTTP gateway"},
	}},
	{"trial", "rehearsals, replays and their stand-ins", []room{
		{"internal/trial/archive", "crop farm science/bed science/microclimate science/skill science/verdict science/weatherfile unit weather", "issued forecasts through the decision code"},
		{"internal/trial/browsertest", "", "pages in a real browser, for tests"},
		{"internal/trial/catcher", "outside/serving", "a mail server and gateway that keep what comes"},
		{"internal/trial/chromium", "trial/patience", "one browser a package, for tests"},
		{"internal/trial/npmtest", "", "other people's parsers and libraries, for tests"},
		{"internal/trial/patience", "", "how long a test waits"},
		{"internal/trial/replay", "crop science/bed science/hardiness science/microclimate science/verdict unit weather", "one bed over a weather file"},
		{"internal/trial/standin", "unit weather", "speaks the NWS wire format on this machine"},
		{"internal/trial/validation", "science/microclimate unit weather", "scores the soil column against observations"},
	}},
	{"top", "puts the parts together", []room{
		{"internal/app", "*", "New wires, Run starts and stops"},
		{"internal/trial/rehearsal", "*", "the invented farm and winter of the demo"},
		{"cmd/winterstand", "*", "flags and signals"},
	}},
}

func TestImportsPointDown(t *testing.T) {
	level, listed := map[string]int{}, map[string]room{}
	for i, w := range layers {
		for _, r := range w.rooms {
			require.NotEmpty(t, r.why, r.name)
			require.NotContains(t, listed, r.name, "listed twice")
			level[strings.TrimPrefix(r.name, "internal/")], listed[r.name] = i, r
		}
	}
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, "winterstand/")
		r, known := listed[name]
		if !known {
			if len(p.GoFiles) > 0 {
				t.Errorf("%s is not in the list: add it with what it imports and why", name)
			}
			continue
		}
		delete(listed, name)
		uses := ours(p.Imports)
		if r.imports != "*" {
			assert.Equal(t, strings.Fields(r.imports), uses, "what %s imports, sorted", name)
		}
		for _, i := range uses {
			assert.LessOrEqual(t, level[i], level[strings.TrimPrefix(name, "internal/")], "%s imports %s, which stands above it", name, i)
		}
	}
	assert.Empty(t, listed, "listed, but not there")
}

// ours are the packages of this module among imports, sorted, without "internal/".
func ours(imports []string) []string {
	out := []string{}
	for _, i := range imports {
		if inner, ok := strings.CutPrefix(i, "winterstand/"); ok {
			out = append(out, strings.TrimPrefix(inner, "internal/"))
		}
	}
	slices.Sort(out)
	return out
}

// What is computed stays free of the outside world: the wings up to message, but
// for the phrases, which read their own files.
func TestScienceHasNoClockAndNoOutsideWorld(t *testing.T) {
	banned := []string{"context", "log", "log/slog", "net", "net/http", "os", "database/sql", "math/rand"}
	pure := map[string]bool{}
	for _, w := range layers {
		for _, r := range w.rooms {
			pure["winterstand/"+r.name] = slices.Contains([]string{"values", "science", "storage"}, w.name) || r.name == "internal/message/notice"
		}
	}
	for _, p := range packages(t) {
		for _, i := range p.Imports {
			if pure[p.ImportPath] && slices.Contains(banned, i) && !(p.ImportPath == "winterstand/internal/forecast" && i == "context") {
				t.Errorf("%s imports %s", p.ImportPath, i)
			}
		}
	}
}

type pkg struct {
	ImportPath string
	GoFiles    []string
	Imports    []string
}

func packages(t *testing.T) []pkg {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,GoFiles,Imports", "winterstand/...").Output()
	require.NoError(t, err)
	var all []pkg
	for dec := json.NewDecoder(strings.NewReader(string(out))); dec.More(); {
		var p pkg
		require.NoError(t, dec.Decode(&p))
		all = append(all, p)
	}
	return all
}
