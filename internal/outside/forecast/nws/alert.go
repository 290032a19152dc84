package nws

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
)

// Alerts gives the warnings in force at a point, the next to begin first.
// Where some of them cannot be read, the readable ones come together with an
// error.
func (s *Source) Alerts(ctx context.Context, p forecast.Point) ([]forecast.Alert, error) {
	p, err := p.Normal()
	if err != nil {
		return nil, fmt.Errorf("nws warnings: %w", err)
	}
	point := forecast.Coordinate(p.Latitude) + "," + forecast.Coordinate(p.Longitude)
	address := s.base.URL("/alerts/active", url.Values{"point": {point}, "status": {"actual"}})
	r, err := s.get(ctx, address, forecast.Validators{}, geoJSON)
	if err != nil {
		return nil, fmt.Errorf("fetch nws warnings for %s: %w", point, err)
	}
	alerts, err := ParseAlerts(r.Body, s.client.Now())
	if err != nil {
		return alerts, fmt.Errorf("fetch nws warnings for %s: %w", point, fetch.Unusable(address, err))
	}
	return alerts, nil
}

type alert struct {
	ID          string  `json:"id"`
	Sent        string  `json:"sent"`
	Effective   string  `json:"effective"`
	Onset       *string `json:"onset"`
	Expires     string  `json:"expires"`
	Ends        *string `json:"ends"`
	Status      string  `json:"status"`
	MessageType string  `json:"messageType"`
	Severity    string  `json:"severity"`
	Urgency     string  `json:"urgency"`
	Event       string  `json:"event"`
	Headline    string  `json:"headline"`
	Instruction string  `json:"instruction"`
	SenderName  string  `json:"senderName"`
	Parameters  struct {
		VTEC     []string `json:"VTEC"`
		Headline []string `json:"NWSheadline"`
	} `json:"parameters"`
}

// ParseAlerts reads /alerts/active and keeps what is in force: actual warnings
// that have not ended, whose VTEC action is not an upgrade, cancellation or
// expiry (the message type alone does not tell, and a cancelled watch is still
// listed). Of several with one VTEC key the last one sent counts. Those that
// cannot be read are named in the error; the others are given all the same.
func ParseAlerts(body []byte, now time.Time) ([]forecast.Alert, error) {
	var doc struct {
		Features []struct {
			Properties alert `json:"properties"`
		} `json:"features"`
	}
	if err := json.Unmarshal(body, &doc); err != nil {
		return nil, fmt.Errorf("alerts: %w", err)
	}
	type state struct {
		forecast.Alert
		inForce bool
	}
	latest := map[string]state{}
	var broken []error
	for i, f := range doc.Features {
		a, inForce, err := f.Properties.read(now)
		if err != nil {
			broken = append(broken, fmt.Errorf("features[%d].properties.%w", i, err))
			continue
		}
		have, ok := latest[a.Key]
		if !ok || a.Sent.After(have.Sent) || a.Sent.Equal(have.Sent) && inForce && !have.inForce {
			latest[a.Key] = state{a, inForce}
		}
	}
	var out []forecast.Alert
	for _, s := range latest {
		if s.inForce {
			out = append(out, s.Alert)
		}
	}
	slices.SortFunc(out, func(a, b forecast.Alert) int {
		return cmp.Or(a.Onset.Compare(b.Onset), cmp.Compare(a.Key, b.Key))
	})
	return out, errors.Join(broken...)
}

// read gives the warning and whether it is in force.
func (a alert) read(now time.Time) (forecast.Alert, bool, error) {
	out := forecast.Alert{
		Event: a.Event, Headline: a.Headline, Severity: a.Severity, Key: a.ID, Office: a.SenderName,
		Instruction: a.Instruction, Credit: Credit,
	}
	var err error
	if out.Sent, err = parseTime(a.Sent); err != nil {
		return out, false, fmt.Errorf("sent: %w", err)
	}
	if out.Onset, err = firstTime(a.Onset, &a.Effective); err != nil {
		return out, false, fmt.Errorf("onset: %w", err)
	}
	if out.Ends, err = firstTime(a.Ends, &a.Expires); err != nil {
		return out, false, fmt.Errorf("ends: %w", err)
	}
	inForce := a.Status == "Actual" && a.MessageType != "Cancel" && (out.Ends.IsZero() || out.Ends.After(now))
	v, found := firstVTEC(a.Parameters.VTEC)
	if !found {
		return out, inForce && a.Urgency != "Past", nil
	}
	out.Key = v.key()
	return out, inForce && v.inForce(), nil
}

// firstTime reads the first of several times that is there.
func firstTime(texts ...*string) (time.Time, error) {
	for _, s := range texts {
		if s != nil && *s != "" {
			return parseTime(*s)
		}
	}
	return time.Time{}, nil
}

// vtec is a P-VTEC string (NWS Instruction 10-1703): what happens to which
// event.
type vtec struct{ class, action, office, phenomenon, significance, number string }

var vtecForm = regexp.MustCompile(`^/([OTEX])\.([A-Z]{3})\.([A-Z]{4})\.([A-Z]{2})\.([A-Z])\.(\d{4})\.(\d{6}T\d{4}Z)-(\d{6}T\d{4}Z)/$`)

// firstVTEC gives the first string in force, else the first of all: one product
// may carry several events.
func firstVTEC(texts []string) (vtec, bool) {
	var first *vtec
	for _, s := range texts {
		m := vtecForm.FindStringSubmatch(s)
		if m == nil {
			continue
		}
		v := vtec{m[1], m[2], m[3], m[4], m[5], m[6]}
		if v.inForce() {
			return v, true
		}
		if first == nil {
			first = &v
		}
	}
	if first == nil {
		return vtec{}, false
	}
	return *first, true
}

func (v vtec) key() string {
	return v.office + "." + v.phenomenon + "." + v.significance + "." + v.number
}

// inForce: new, continued, extended in time, area or both, or corrected; not
// upgraded, cancelled or expired. Test and experimental products do not count.
func (v vtec) inForce() bool {
	switch v.action {
	case "NEW", "CON", "EXT", "EXA", "EXB", "COR":
		return v.class == "O"
	}
	return false
}
