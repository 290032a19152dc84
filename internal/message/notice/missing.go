package notice

import (
	"strconv"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
)

// Missing says without what a bed cannot be judged.
func Missing(s phrase.Speaker, gaps []farm.Gap) string {
	out := make([]string, len(gaps))
	for i, g := range gaps {
		out[i] = s.Say("missing."+string(g.What), phrase.Args{"hours": strconv.Itoa(g.Hours), "of": strconv.Itoa(g.Of), "name": g.Name, "says": g.Says})
	}
	return strings.Join(out, "; ")
}
