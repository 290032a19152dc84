package notice

import (
	"time"

	"winterstand/internal/farm"
)

// SightTold is what a field's people have been told about being blind.
type SightTold struct {
	Blind    bool      `json:"blind"`
	Since    time.Time `json:"since"`
	ToldAt   time.Time `json:"told_at"`
	Revision int       `json:"revision"`
}

// blindAgainAfter: while it lasts, people are reminded once a day. Own default.
const blindAgainAfter = 24 * time.Hour

// NextSight decides whether a field's people must hear that it cannot be seen, and
// since when, or that it can be seen again; an empty kind: nothing is due.
func NextSight(was SightTold, why farm.Blindness, since, now time.Time) (SightTold, Kind) {
	next := was
	next.Revision++
	switch {
	case why == "" && was.Blind:
		next.Blind = false
		return next, SightAgain
	case why == "" || was.Blind && now.Sub(was.ToldAt) < blindAgainAfter:
		return was, ""
	case !was.Blind:
		next.Since = since
	}
	next.Blind, next.ToldAt = true, now
	return next, Blind
}
