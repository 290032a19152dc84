package browsertest

import (
	_ "embed"
	"encoding/json"
)

//go:embed looks.js
var looks string

// focus is where the focus stands after a step.
type focus struct {
	Nowhere, There bool
	What           string
	Wrong          []string
}

// quoted is a text as a literal of JavaScript.
func quoted(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string always has a form in JSON
	}
	return string(b)
}
