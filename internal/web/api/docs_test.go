package api

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What a member may be, in a few words.
func TestKindsOfMembers(t *testing.T) {
	zero, one := 0.0, 1.0
	word := publishedSchema{Type: "string", Enum: []any{"low", nil, "high"}}
	for want, s := range map[string]publishedSchema{
		"string":             {Type: "string"},
		"date":               {Type: "string", Format: "date"},
		"date-time":          {Type: []any{"string", "null"}, Format: "date-time"},
		"number":             {Type: []any{"number", "null"}, Format: "double"},
		"number ≥ 0, ≤ 1":    {Type: "number", Minimum: &zero, Maximum: &one},
		"number > 0, < 1":    {Type: "number", Above: &zero, Below: &one},
		"low | high":         word,
		"list of low | high": {Type: "array", Items: &word},
		"Bed":                {Ref: "#/components/schemas/Bed"},
	} {
		assert.Equal(t, want, s.kind())
	}
}
