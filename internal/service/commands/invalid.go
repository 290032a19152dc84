package commands

import (
	"fmt"
	"strings"
)

// Problem is one thing wrong with an input, in plain words.
type Problem struct {
	Field  string `json:"field"`          // the member or column, "covers[0].kind"
	Reason string `json:"reason"`         // what is wrong and what would be right
	Line   int    `json:"line,omitempty"` // of a file; 0: not from a file
}

// Invalid is an input that cannot be taken. Nothing of it was stored.
type Invalid struct{ Problems []Problem }

// Error lists every problem, the line first where there is one.
func (e *Invalid) Error() string {
	lines := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		lines[i] = p.String()
	}
	return strings.Join(lines, "; ")
}

// String is the problem in one line.
func (p Problem) String() string {
	if p.Line > 0 {
		return fmt.Sprintf("line %d, %s: %s", p.Line, p.Field, p.Reason)
	}
	return p.Field + ": " + p.Reason
}

// Refused is an input that is right in itself but does not fit what stands in
// the book; nothing was stored.
type Refused struct{ Reason string }

// Error says why.
func (e *Refused) Error() string { return e.Reason }

func refuse(format string, args ...any) error { return &Refused{fmt.Sprintf(format, args...)} }

// check gathers the problems of one input.
type check struct{ problems []Problem }

func (c *check) bad(field, format string, args ...any) {
	c.problems = append(c.problems, Problem{Field: field, Reason: fmt.Sprintf(format, args...)})
}

func (c *check) err() error {
	if len(c.problems) == 0 {
		return nil
	}
	return &Invalid{c.problems}
}

func wrong(field, format string, args ...any) error {
	return &Invalid{[]Problem{{Field: field, Reason: fmt.Sprintf(format, args...)}}}
}
