package round

import (
	"errors"

	"winterstand/internal/forecast"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/scene"
)

// troubleWith names what went wrong with a source; the log has the whole error.
func troubleWith(source string, err error) notice.Trouble {
	t := notice.Trouble{Source: source, Kind: forecast.Kind(err), Says: forecast.Answer(err)}
	var blank *forecast.NoAir
	if errors.As(err, &blank) {
		t.Layers = scene.Refused(blank.Refused)
	}
	return t
}

// unplaced is the error of a place that no source could be asked about.
type unplaced struct {
	error
	with []notice.Trouble
}

func (u *unplaced) Unwrap() error { return u.error }

// troubles are those of an unplaced place.
func troubles(cause error) []notice.Trouble {
	var u *unplaced
	if errors.As(cause, &u) && len(u.with) > 0 {
		return u.with
	}
	return []notice.Trouble{{Kind: forecast.Other}}
}
