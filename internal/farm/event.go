package farm

import (
	"encoding/json"
	"time"

	"winterstand/internal/unit"
)

// Phase is where the telling of a bed's event stands.
type Phase string

// The phases. An event is open from the notice that tells it until its night is
// over or the danger has gone.
const (
	Quiet       Phase = ""              // nothing is open
	Told        Phase = "told"          // by when it must be out
	Called      Phase = "called"        // and that the last window opens
	ToldTooLate Phase = "told_too_late" // that no window is left
	Relieved    Phase = "relieved"      // told too late, but the danger has eased since
	Spent       Phase = "spent"         // told too late and over: no more is said until a window opens or the danger goes
)

// Open tells whether an event is open.
func (p Phase) Open() bool {
	return p == Told || p == Called || p == ToldTooLate || p == Relieved
}

// Event is what has been told about one bed's danger. It is kept with the bed's
// verdict and moves only by the table in notice.
type Event struct {
	Phase       Phase                 `json:"phase,omitempty"`
	NoticeID    int64                 `json:"notice_id,omitempty"` // the newest of the event
	Night       Day                   `json:"night,omitempty"`     // as told last
	Awaits      Day                   `json:"awaits,omitempty"`    // the night by the newest forecast, while the deadline has not passed
	Deadline    unit.Maybe[time.Time] `json:"deadline,omitzero"`   // as told last; missing: told too late
	LastWindow  unit.Maybe[Window]    `json:"last_window,omitzero"`
	Cause       Cause                 `json:"cause,omitempty"` // as told last
	Left        unit.Maybe[float64]   `json:"left,omitzero"`   // market quality left when it was told
	ToldAt      unit.Maybe[time.Time] `json:"told_at,omitzero"`
	Revision    int                   `json:"revision"`            // of the last notice; never goes back
	Issued      unit.Maybe[time.Time] `json:"issued,omitzero"`     // of the forecast judged last
	LowIssues   int                   `json:"low_issues"`          // successive issues under half of C/L
	LaterIssues int                   `json:"later_issues"`        // successive issues with a later deadline
	Inspected   Day                   `json:"inspected,omitempty"` // the last night asked about
}

// Ends is the night after which the open event is over.
func (e Event) Ends() Day {
	if e.Awaits != "" {
		return e.Awaits
	}
	return e.Night
}

// Closed is what is remembered of an event when it is over.
func (e Event) Closed(p Phase) Event {
	return Event{Phase: p, Revision: e.Revision, Issued: e.Issued, Inspected: e.Inspected}
}

// UnmarshalJSON reads events, and those that were kept as three flags before
// phases had names.
func (e *Event) UnmarshalJSON(body []byte) error {
	type plain Event
	var flags struct {
		Open       bool `json:"open"`
		Gone       bool `json:"gone"`
		LastCalled bool `json:"last_called"`
	}
	if err := json.Unmarshal(body, (*plain)(e)); err != nil {
		return err
	}
	if err := json.Unmarshal(body, &flags); err != nil || e.Phase != Quiet {
		return err
	}
	switch {
	case flags.Open && flags.Gone:
		e.Phase = ToldTooLate
	case flags.Open && flags.LastCalled:
		e.Phase = Called
	case flags.Open && !e.Deadline.Known():
		e.Phase = Relieved
	case flags.Open:
		e.Phase = Told
	case flags.Gone:
		e.Phase = Spent
	}
	return nil
}
