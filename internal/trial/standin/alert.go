package standin

import (
	"fmt"
	"net/http"
	"time"
)

// alerts lists the warnings of the place nearest to a point.
func (s *server) alerts(w http.ResponseWriter, r *http.Request) {
	lat, lon, err := parsePoint(r.URL.Query().Get("point"))
	if err != nil {
		s.problem(w, http.StatusBadRequest, "BadRequest", "Bad Request", err.Error())
		return
	}
	features := []any{}
	if p, ok := s.nearest(lat, lon); ok && s.Warnings != nil {
		for _, warning := range s.Warnings(p, s.Now().UTC()) {
			features = append(features, p.alert(warning))
		}
	}
	w.Header().Set("Cache-Control", "public, max-age=30")
	answer(w, r, map[string]any{"type": "FeatureCollection", "title": "Current watches, warnings, and advisories", "features": features})
}

func (p Place) alert(w Warning) map[string]any {
	action := w.Action
	if action == "" {
		action = "NEW"
	}
	vtec := fmt.Sprintf("/O.%s.K%s.%s.%s.%04d.%s-%s/", action, p.Office, w.Phenomenon, w.Significance, w.Number, vtecTime(w.Onset), vtecTime(w.Ends))
	id := fmt.Sprintf("urn:oid:2.49.0.1.840.0.standin.%s.%d.%d", p.Office, w.Number, w.Sent.Unix())
	return map[string]any{
		"id": publicHost + "/alerts/" + id, "type": "Feature", "geometry": nil,
		"properties": map[string]any{
			"@type": "wx:Alert", "id": id, "areaDesc": p.Name, "sent": stamp(w.Sent), "effective": stamp(w.Sent),
			"onset": stamp(w.Onset), "expires": stamp(w.Ends), "ends": stamp(w.Ends), "status": "Actual",
			"messageType": "Alert", "category": "Met", "severity": "Moderate", "certainty": "Likely", "urgency": "Expected",
			"event": w.Event, "senderName": "NWS " + p.Office + " (stand-in)", "headline": w.Headline,
			"instruction": nil, "response": "Prepare", "parameters": map[string]any{"VTEC": []string{vtec}},
		},
	}
}

func vtecTime(t time.Time) string {
	if t.IsZero() {
		return "000000T0000Z"
	}
	return t.UTC().Format("060102T1504Z")
}
