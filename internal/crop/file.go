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
	Cautions []Caution         `toml:"cautions"`
	Evidence []claim           `toml:"evidence"`
	Listed   []figure          `toml:"listed"`
	Figure   map[string]figure `toml:"figure"`
}

// claim is what a source says without a number.
type claim struct {
	Source string `toml:"source"`
	Mark   Mark   `toml:"mark"`
	Says   string `toml:"says"`
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
		return doc, unknownKeys(name, src, missing)
	case errors.As(err, &bad):
		row, col := bad.Position()
		return doc, fmt.Errorf("%s:%d:%d: %s", name, row, col, strings.TrimPrefix(bad.Error(), "toml: "))
	}
	return doc, fmt.Errorf("%s: %w", name, err)
}

// The keys a table of the file may have, for the message about a wrong one.
const (
	topKeys    = "sources, common, crop"
	entryKeys  = "aliases, title, family, organ, review, conflict, remark, cautions, evidence, listed, figure"
	figureKeys = "value, unit, basis, mark, source, confidence, note"
	claimKeys  = "source, mark, says"
)

func unknownKeys(name string, src []byte, missing *toml.StrictMissingError) error {
	where := linesOf(src)
	var all []error
	for i := range missing.Errors {
		e := &missing.Errors[i]
		row, col := e.Position()
		path := where.path(row, last(e.Key()))
		all = append(all, fmt.Errorf("%s:%d:%d: unknown key %q: must be one of %s", name, row, col, path, keysAt(path)))
	}
	return errors.Join(all...)
}

func keysAt(path string) string {
	switch {
	case strings.Contains(path, ".evidence["):
		return claimKeys
	case strings.Contains(path, ".listed["), strings.Contains(path, ".figure."), strings.HasPrefix(path, "common."):
		return figureKeys
	case strings.HasPrefix(path, "crop."):
		return entryKeys
	}
	return topKeys
}
