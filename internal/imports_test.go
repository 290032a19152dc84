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
	{"internal/farm", "unit", "the nouns"},
	{"internal/gsm7", "", "the alphabet of short messages"},
	{"internal/sign", "", "links that cannot be guessed"},
	{"internal/crop", "config unit", "what each crop stands"},
	{"internal/hardiness", "crop unit", "how the tolerance moves, and injury"},
	{"internal/microclimate", "crop unit weather", "the bed's own climate"},
	{"internal/keeping", "config crop farm microclimate unit", "the life of lots"},
	{"internal/lifting", "farm keeping unit", "what to lift when"},
	{"internal/supply", "farm keeping unit", "what runs out when"},
	{"internal/skill", "crop farm unit", "how verdicts did"},
	{"internal/teach", "unit", "what findings say of the tolerance"},
	{"internal/stand", "crop farm hardiness microclimate unit weather", "a bed's life, hour by hour"},
	{"internal/deadline", "crop farm microclimate stand unit weather", "the verdict"},
	{"internal/weatherfile", "farm microclimate unit weather", "reads weather files from a reader"},
	{"internal/season", "crop farm hardiness microclimate stand unit weather weatherfile", "past winters"},
	{"internal/replay", "crop deadline farm hardiness microclimate stand unit weather weatherfile", "one bed over a weather file"},
	{"internal/archive", "crop deadline farm hardiness microclimate skill stand unit weather weatherfile", "issued forecasts through the decision code"},
	{"internal/phrase", "farm unit", "every sentence"},
	{"internal/notice", "crop deadline farm gsm7 phrase unit", "is it due, and its words"},
	{"internal/picture", "farm unit", "the drawing of a bed"},
	{"internal/microclimate/validation", "farm microclimate unit weather weatherfile", "scores the soil column against observations"},
	// Application: decides the order, is given the time, declares what it needs.
	{"internal/ledger", "farm unit weather", "what is written down, and its promises"},
	{"internal/forecast", "unit weather", "the types and manners all sources share"},
	{"internal/desk", "crop deadline farm forecast keeping ledger lifting microclimate notice unit weather weatherfile", "what people may enter and change"},
	{"internal/watch", "crop deadline farm forecast hardiness keeping larder ledger microclimate notice stand teach unit weather", "one round"},
	{"internal/larder", "crop deadline farm keeping ledger lifting microclimate notice phrase season skill stand supply unit weather weatherfile", "plan, stores and supply from the book"},
	{"internal/deliver", "farm ledger notice phrase sign unit", "messages until they arrive"},
	{"internal/schedule", "ledger", "jobs"},
	// Adapters: one outside thing each; none imports another.
	{"internal/forecast/nws", "forecast unit weather", "US National Weather Service"},
	{"internal/forecast/metno", "forecast unit weather", "MET Norway"},
	{"internal/forecast/openmeteo", "forecast unit weather", "Open-Meteo"},
	{"internal/standin", "unit weather", "speaks the NWS wire format on this machine"},
	{"internal/store/row", "farm ledger unit weather", "rows both stores share"},
	{"internal/store/schema", "", "migrations of both stores"},
	{"internal/store/sqlite", "farm ledger migrations store/row store/schema unit weather", "the embedded book"},
	{"internal/store/postgres", "farm ledger migrations store/row store/schema unit weather", "the book on a server"},
	{"internal/storetest", "farm ledger unit weather", "what every store must do"},
	{"internal/notify/email", "", "SMTP"},
	{"internal/notify/sms", "farm unit", "an HTTP gateway"},
	{"internal/npmtest", "", "other people's parsers and libraries, for tests"},
	{"internal/catcher", "", "a mail server and gateway that keep what comes"},
	{"internal/api", "crop deadline desk farm keeping larder ledger lifting microclimate notice season skill supply unit weatherfile", "HTTP API"},
	{"internal/page", "api crop deadline deliver desk farm keeping larder ledger lifting microclimate notice phrase picture season sign skill supply unit watch weatherfile", "pages for people"},
	{"internal/inbound", "deliver desk farm gsm7 ledger notice notify/sms phrase unit watch", "answers by text message"},
	{"internal/calendar", "deadline farm ledger notice phrase unit", "the calendar feed"},
	{"internal/settings", "", "one strict file and the environment"},
	// Top: puts the parts together.
	{"internal/app", "*", "New wires, Run starts and stops"},
	{"internal/rehearsal", "*", "the invented farm and winter of the demo"},
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
		if !slices.Contains([]string{"unit", "weather", "farm", "crop", "hardiness", "microclimate", "keeping", "lifting", "supply", "skill", "teach", "stand", "deadline", "gsm7"}, name) {
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
