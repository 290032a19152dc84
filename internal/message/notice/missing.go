package notice

import (
	"encoding/json"
	"strconv"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
)

// Missing says without what a bed cannot be judged.
func Missing(s phrase.Speaker, gaps []farm.Gap) string {
	out := make([]string, len(gaps))
	for i, g := range gaps {
		key := "missing." + string(g.What)
		if g.Why != "" {
			key = "layer." + g.Why
		}
		out[i] = s.Say(key, phrase.Args{"hours": strconv.Itoa(g.Hours), "of": strconv.Itoa(g.Of), "name": g.Name, "says": g.Says})
	}
	return strings.Join(out, "; ")
}

// Trouble is what went wrong with a source.
type Trouble struct {
	Source string     `json:"source,omitempty"`
	Kind   string     `json:"kind,omitempty"` // a forecast.Kind; empty: Says it all, in the words of before it had kinds
	Says   string     `json:"says,omitempty"` // the service's own words
	Layers []farm.Gap `json:"layers,omitempty"`
}

// UnmarshalJSON reads troubles, and those that were kept as a sentence.
func (t *Trouble) UnmarshalJSON(body []byte) error {
	if len(body) > 0 && body[0] == '"' {
		*t = Trouble{}
		return json.Unmarshal(body, &t.Says)
	}
	type current Trouble
	return json.Unmarshal(body, (*current)(t))
}

// Troubles says what went wrong with each source, the services' own words in quotes.
func Troubles(s phrase.Speaker, all []Trouble) []string {
	out := make([]string, len(all))
	for i, t := range all {
		if t.Kind == "" {
			out[i] = t.Says
			continue
		}
		out[i] = s.Say("trouble."+t.Kind, phrase.Args{"source": sourceName(s, t.Source)})
		if len(t.Layers) > 0 {
			out[i] = s.Say("trouble.layers", phrase.Args{"trouble": out[i], "layers": Missing(s, t.Layers)})
		}
		if t.Says != "" {
			out[i] = s.Say("trouble.answered", phrase.Args{"trouble": out[i], "says": t.Says})
		}
	}
	return out
}
