package crop

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// document is the catalogue file as it is written.
type document struct {
	Sources map[string]string `toml:"sources"`
	Common  map[string]figure `toml:"common"`
	Crop    map[string]entry  `toml:"crop"`
}

type entry struct {
	Aliases  []string          `toml:"aliases"`
	Title    map[string]string `toml:"title"`
	Family   string            `toml:"family"`
	Organ    Organ             `toml:"organ"`
	Review   bool              `toml:"review"`
	Conflict string            `toml:"conflict"`
	Remark   string            `toml:"remark"`
	Evidence []string          `toml:"evidence"`
	Listed   []figure          `toml:"listed"`
	Figure   map[string]figure `toml:"figure"`
}

// figure is one number; a missing value stays missing.
type figure struct {
	Value      *float64 `toml:"value"`
	Unit       string   `toml:"unit"`
	Basis      Basis    `toml:"basis"`
	Mark       Mark     `toml:"mark"`
	Source     []string `toml:"source"`
	Confidence string   `toml:"confidence"`
	Note       string   `toml:"note"`
}

// decode reads the file strictly; every error names file and line.
func decode(name string, src []byte) (document, error) {
	var doc document
	d := toml.NewDecoder(bytes.NewReader(src))
	d.DisallowUnknownFields()
	err := d.Decode(&doc)
	var missing *toml.StrictMissingError
	var bad *toml.DecodeError
	switch {
	case err == nil:
		return doc, nil
	case errors.As(err, &missing):
		return doc, unknownKeys(name, missing)
	case errors.As(err, &bad):
		row, col := bad.Position()
		return doc, fmt.Errorf("%s:%d:%d: %s", name, row, col, strings.TrimPrefix(bad.Error(), "toml: "))
	}
	return doc, fmt.Errorf("%s: %w", name, err)
}

// The keys a table of the file may have, for the message about a wrong one.
const (
	topKeys    = "sources, common, crop"
	entryKeys  = "aliases, title, family, organ, review, conflict, remark, evidence, listed, figure"
	figureKeys = "value, unit, basis, mark, source, confidence, note"
)

func unknownKeys(name string, missing *toml.StrictMissingError) error {
	var all []error
	for i := range missing.Errors {
		e := &missing.Errors[i]
		row, col := e.Position()
		all = append(all, fmt.Errorf("%s:%d:%d: unknown key %q: must be one of %s",
			name, row, col, strings.Join(e.Key(), "."), keysAt(e.Key())))
	}
	return errors.Join(all...)
}

func keysAt(key []string) string {
	switch {
	case len(key) <= 1:
		return topKeys
	case key[0] == "crop" && len(key) == 3:
		return entryKeys
	}
	return figureKeys
}
