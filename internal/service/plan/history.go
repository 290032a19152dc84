package plan

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/science/season"
	"winterstand/internal/science/weatherfile"
)

// ErrShort: a history without a whole winter.
var ErrShort = errors.New("no winter from 1 August to 31 May lies whole within it; give a longer history")

// ErrPacked: a compressed file, whose size is not known before it is unpacked.
var ErrPacked = errors.New("is compressed; unpack it first")

// readHistory takes the forms that weatherfile reads.
func readHistory(name string, file []byte, at farm.Place) (season.History, error) {
	if bytes.HasPrefix(file, []byte{0x1f, 0x8b}) || strings.HasSuffix(strings.ToLower(name), ".gz") {
		return season.History{}, fmt.Errorf("%s: %w", name, ErrPacked)
	}
	read, err := weatherfile.Read(bytes.NewReader(file), name, weatherfile.Options{})
	if err != nil {
		return season.History{}, err
	}
	h := season.HistoryOf(read, at.Latitude, at.Longitude, at.Zone)
	if len(h.Years) == 0 {
		return h, fmt.Errorf("%s: %w", name, ErrShort)
	}
	return h, nil
}
