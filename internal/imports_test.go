package internal_test

import (
	"encoding/json"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layers list every package with the packages of this module it may import, and
// why it stands where it stands. Imports point down only: a package may import
// what its own line names, and nothing else of the module.
var layers = []struct{ name, may, why string }{
	// Science: values in, values out. No input or output, no clock, no context, no log.
	{"config", "", "the catalogues' files"},
	{"migrations", "", "the schema's files"},
	{"internal/unit", "", "the quantities all speak in"},
	{"internal/weather", "unit", "hours and forecasts as values"},
	{"internal/farm", "crop unit", "the nouns, the verdict and what was told"},
	{"internal/message/gsm7", "", "the alphabet of short messages"},
	{"internal/message/link", "", "links that cannot be guessed"},
	{"internal/crop", "config unit", "what each crop stands"},
	{"internal/science/hardiness", "crop unit", "how the tolerance moves, and injury"},
	{"internal/science/microclimate", "crop unit weather", "the bed's own climate"},
	{"internal/storage/keeping", "config crop farm science/microclimate unit", "the life of lots"},
	{"internal/storage/lifting", "farm storage/keeping unit", "what to lift when"},
	{"internal/storage/supply", "farm storage/keeping unit", "what runs out when"},
	{"internal/science/skill", "crop farm unit", "how verdicts did"},
	{"internal/science/teach", "unit", "what findings say of the tolerance"},
	{"internal/science/bed", "crop farm science/hardiness science/microclimate unit weather", "a bed's life, hour by hour"},
	{"internal/science/verdict", "crop farm science/microclimate science/bed unit weather", "the verdict"},
	{"internal/science/weatherfile", "farm science/microclimate unit weather", "reads weather files from a reader"},
	{"internal/science/season", "crop farm science/hardiness science/microclimate science/bed unit weather science/weatherfile", "past winters"},
	{"internal/trial/replay", "crop science/verdict farm science/hardiness science/microclimate science/bed unit weather science/weatherfile", "one bed over a weather file"},
	{"internal/trial/archive", "crop science/verdict farm science/hardiness science/microclimate science/skill science/bed unit weather science/weatherfile", "issued forecasts through the decision code"},
	{"internal/message/phrase", "farm unit", "every sentence"},
	{"internal/message/notice", "crop science/verdict farm message/gsm7 message/phrase unit", "is it due, and its words"},
	{"internal/message/picture", "farm unit", "the drawing of a bed"},
	{"internal/trial/validation", "farm science/microclimate unit weather science/weatherfile", "scores the soil column against observations"},
	// Application: decides the order, is given the time, declares what it needs.
	{"internal/store", "farm unit weather", "what is written down, and its promises"},
	{"internal/outside/forecast", "unit weather", "the types and manners all sources share"},
	{"internal/service/commands", "crop science/verdict farm outside/forecast storage/keeping store storage/lifting science/microclimate message/notice unit weather science/weatherfile", "what people may enter and change"},
	{"internal/service/round", "crop science/verdict farm outside/forecast science/hardiness storage/keeping service/plan store science/microclimate message/notice science/bed science/teach unit weather", "one round"},
	{"internal/service/plan", "crop science/verdict farm storage/keeping store storage/lifting science/microclimate message/notice message/phrase science/season science/skill science/bed storage/supply unit weather science/weatherfile", "plan, stores and supply from the book"},
	{"internal/service/deliver", "farm store message/notice message/phrase message/link unit", "messages until they arrive"},
	{"internal/service/schedule", "store", "jobs"},
	// Adapters: one outside thing each; none imports another.
	{"internal/outside/forecast/nws", "outside/forecast unit weather", "US National Weather Service"},
	{"internal/outside/forecast/metno", "outside/forecast unit weather", "MET Norway"},
	{"internal/outside/forecast/openmeteo", "outside/forecast unit weather", "Open-Meteo"},
	{"internal/trial/standin", "unit weather", "speaks the NWS wire format on this machine"},
	{"internal/store/row", "farm store unit weather", "rows both stores share"},
	{"internal/store/schema", "", "migrations of both stores"},
	{"internal/store/sqlite", "farm store migrations store/row store/schema unit weather", "the embedded book"},
	{"internal/store/postgres", "farm store migrations store/row store/schema unit weather", "the book on a server"},
	{"internal/store/storetest", "farm store unit weather", "what every store must do"},
	{"internal/outside/email", "", "SMTP"},
	{"internal/outside/sms", "farm unit", "an HTTP gateway"},
	{"internal/trial/npmtest", "", "other people's parsers and libraries, for tests"},
	{"internal/trial/catcher", "", "a mail server and gateway that keep what comes"},
	{"internal/web/api", "crop science/verdict service/commands farm storage/keeping service/plan store storage/lifting science/microclimate message/notice science/season science/skill storage/supply unit science/weatherfile", "HTTP API"},
	{"internal/web/page", "web/api crop science/verdict service/deliver service/commands farm storage/keeping service/plan store storage/lifting science/microclimate message/notice message/phrase message/picture science/season message/link science/skill storage/supply unit service/round science/weatherfile", "pages for people"},
	{"internal/service/inbound", "service/deliver service/commands farm message/gsm7 store message/notice outside/sms message/phrase unit service/round", "answers by text message"},
	{"internal/web/calendar", "science/verdict farm store message/notice message/phrase unit", "the calendar feed"},
	{"internal/outside/settings", "", "one strict file and the environment"},
	// Top: puts the parts together.
	{"internal/app", "*", "New wires, Run starts and stops"},
	{"internal/trial/rehearsal", "*", "the invented farm and winter of the demo"},
	{"cmd/winterstand", "*", "flags and signals"},
}

func TestImportsPointDown(t *testing.T) {
	allowed := map[string][]string{}
	for _, l := range layers {
		require.NotEmpty(t, l.why, l.name)
		allowed[l.name] = strings.Fields(l.may)
	}
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, "winterstand/")
		may, known := allowed[name]
		if !known {
			if len(p.GoFiles) > 0 {
				t.Errorf("%s is not in the list: add it with what it may import and why", name)
			}
			continue
		}
		for _, i := range p.Imports {
			inner, ours := strings.CutPrefix(i, "winterstand/")
			if ours && !slices.Contains(may, "*") && !slices.Contains(may, strings.TrimPrefix(inner, "internal/")) {
				t.Errorf("%s imports %s, which its line does not allow", name, inner)
			}
		}
	}
}

// science packages stay free of the outside world.
func TestScienceHasNoClockAndNoOutsideWorld(t *testing.T) {
	banned := []string{"context", "log", "log/slog", "net", "net/http", "os", "database/sql", "math/rand"}
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, "winterstand/internal/")
		if !slices.Contains([]string{"unit", "weather", "farm", "crop", "science/hardiness", "science/microclimate", "storage/keeping", "storage/lifting", "storage/supply", "science/skill", "science/teach", "science/bed", "science/verdict", "message/gsm7"}, name) {
			continue
		}
		for _, i := range p.Imports {
			if slices.Contains(banned, i) {
				t.Errorf("%s imports %s", name, i)
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
