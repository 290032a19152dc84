package phrase

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"winterstand/internal/unit"
)

// Line is a sentence that has not been said yet: which phrase, and what fills
// its braces. It travels through the program as a value; whoever meets the
// reader says it. The zero Line is none.
type Line struct {
	Key  string
	With map[string]any // text or a number: said as it is; a list: joined by commas; a Line: said first
}

// Of is the line of a phrase; pairs are brace, value, brace, value.
func Of(key string, pairs ...any) Line {
	l := Line{Key: key}
	for i := 0; i+1 < len(pairs); i += 2 {
		if l.With == nil {
			l.With = map[string]any{}
		}
		l.With[pairs[i].(string)] = pairs[i+1]
	}
	return l
}

// None tells whether there is nothing to say.
func (l Line) None() bool { return l.Key == "" }

// String is the line in the fallback language, for programs and logs.
func (l Line) String() string { return embedded().Tell(Fallback, l) }

var embedded = sync.OnceValue(MustLoad)

// Tell says a line in a language.
func (b *Book) Tell(language string, l Line) string {
	if l.None() {
		return ""
	}
	args := Args{}
	for brace, v := range l.With {
		switch v := v.(type) {
		case Line:
			args[brace] = b.Tell(language, v)
		case []string:
			args[brace] = strings.Join(v, ", ")
		default:
			args[brace] = fmt.Sprint(v)
		}
	}
	return b.Say(language, l.Key, args)
}

// Tell says a line in the reader's language.
func (s Speaker) Tell(l Line) string { return s.Book.Tell(s.Language, l) }

// English is the speaker to programs.
func English() Speaker {
	return Speaker{Book: embedded(), Language: Fallback, Units: unit.Metric, Zone: time.UTC}
}

// Languages that the program speaks, sorted: one for each file.
func Languages() []string { return embedded().Languages() }
