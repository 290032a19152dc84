package forecast

import "errors"

// What can go wrong with a source, by what has to be done about it.
var (
	ErrOutside     = errors.New("the service does not cover this place")
	ErrMoved       = errors.New("the forecast cell is gone, resolve the place again")
	ErrNotFound    = errors.New("not found")
	ErrRefused     = errors.New("the service refuses this program")         // 403: the operator must act
	ErrLimited     = errors.New("the service asks for fewer requests")      // 429
	ErrRejected    = errors.New("the service does not accept this request") // 400 and the like: never repeated
	ErrUnavailable = errors.New("the service is not available")             // 5xx, time-outs, no network
	ErrUnusable    = errors.New("the document cannot be used")
	ErrNoPast      = errors.New("the source has no past hours")
)
