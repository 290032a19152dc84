package book

import (
	"fmt"
	"strings"
)

// conditions are a WHERE clause that grows with the filter given.
type conditions struct {
	parts []string
	args  []any
}

// and asks for `left ?`, as in and("bed_id =", 7).
func (c *conditions) and(left string, v any) { c.plain(left + " " + c.mark(v)) }

func (c *conditions) plain(part string) { c.parts = append(c.parts, part) }

// mark adds a value and gives its place in the statement.
func (c *conditions) mark(v any) string {
	c.args = append(c.args, v)
	return fmt.Sprintf("?%d", len(c.args))
}

func (c *conditions) text() string { return "WHERE " + strings.Join(c.parts, " AND ") }
