package commands

import (
	"fmt"
	"strings"

	"winterstand/internal/message/phrase"
)

// Problem is one thing wrong with an input.
type Problem struct {
	Field  string      // the member or column, "covers[0].kind"
	Reason phrase.Line // what is wrong and what would be right
	Line   int         // of a file; 0: not from a file
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

// String is the problem in one line, for programs and logs.
func (p Problem) String() string {
	if p.Line > 0 {
		return fmt.Sprintf("line %d, %s: %s", p.Line, p.Field, p.Reason)
	}
	return fmt.Sprintf("%s: %s", p.Field, p.Reason)
}

// Refused is an input that is right in itself but does not fit what stands in
// the book; nothing was stored.
type Refused struct{ Reason phrase.Line }

// Error says why.
func (e *Refused) Error() string { return e.Reason.String() }

// refuse takes a phrase of [refused] with the values of its braces.
func refuse(key string, pairs ...any) error { return &Refused{phrase.Of("refused."+key, pairs...)} }

// reason is a phrase of [wrong] with the values of its braces.
func reason(key string, pairs ...any) phrase.Line { return phrase.Of("wrong."+key, pairs...) }

// fine is the reason of a value with nothing wrong.
var fine phrase.Line

// check gathers the problems of one input.
type check struct{ problems []Problem }

// bad notes what is wrong with a member: a phrase of [wrong].
func (c *check) bad(field, key string, pairs ...any) { c.test(field, reason(key, pairs...)) }

// test keeps a reason, if there is one.
func (c *check) test(field string, why phrase.Line) { c.testLine(0, field, why) }

func (c *check) testLine(line int, field string, why phrase.Line) {
	if !why.None() {
		c.problems = append(c.problems, Problem{Field: field, Reason: why, Line: line})
	}
}

func (c *check) err() error {
	if len(c.problems) == 0 {
		return nil
	}
	return &Invalid{c.problems}
}

func wrong(field, key string, pairs ...any) error {
	return &Invalid{[]Problem{{Field: field, Reason: reason(key, pairs...)}}}
}
