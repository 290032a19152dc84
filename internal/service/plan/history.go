package plan

import (
	"bytes"
	"errors"
	"strings"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/season"
	"winterstand/internal/science/weatherfile"
)

// BadHistory is a history that nothing can be made of; Why says so, with the
// file and, where there is one, the line.
type BadHistory struct {
	Why   phrase.Line
	cause error
}

func (e *BadHistory) Error() string { return e.Why.String() }

// Unwrap is the fault of the file, if it has one.
func (e *BadHistory) Unwrap() error { return e.cause }

// readHistory takes the forms that weatherfile reads. A compressed file is
// refused, because its size is not known before it is unpacked.
func readHistory(name string, file []byte, at farm.Place) (season.History, error) {
	if bytes.HasPrefix(file, []byte{0x1f, 0x8b}) || strings.HasSuffix(strings.ToLower(name), ".gz") {
		return season.History{}, &BadHistory{Why: phrase.Of("history.packed", "file", name)}
	}
	read, err := weatherfile.Read(bytes.NewReader(file), name, weatherfile.Options{})
	var fault *weatherfile.Fault
	if errors.As(err, &fault) {
		return season.History{}, &BadHistory{FaultLine(fault), err}
	}
	if err != nil {
		return season.History{}, err
	}
	h := season.HistoryOf(read, at.Latitude, at.Longitude, at.Zone)
	if len(h.Years) == 0 {
		return h, &BadHistory{Why: phrase.Of("history.short", "file", name)}
	}
	return h, nil
}

// FaultLine says what is wrong in a file, and where.
func FaultLine(f *weatherfile.Fault) phrase.Line {
	where := phrase.Of("history.line", "file", f.File, "line", f.Line)
	if f.Column != "" {
		where = phrase.Of("history.column", "file", f.File, "line", f.Line, "column", f.Column)
	}
	return phrase.Of("history.fault", "where", where, "what", phrase.Of("history."+string(f.What), "found", f.Found, "right", f.Right))
}
