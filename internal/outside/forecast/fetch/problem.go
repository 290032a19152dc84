package fetch

import (
	"encoding/json"
	"regexp"
	"strings"
)

// Problem is an RFC 9457 (formerly 7807) problem document. Open-Meteo's
// {"error":true,"reason":…} is read into Detail.
type Problem struct {
	Type          string `json:"type"`
	Title         string `json:"title"`
	Detail        string `json:"detail"`
	Status        any    `json:"status"`
	CorrelationID string `json:"correlationId"`
	Reason        string `json:"reason"`
}

// Name is the last segment of Type: services write the same problem as a URL
// and as a URN.
func (p Problem) Name() string {
	return p.Type[strings.LastIndexAny(p.Type, "/:")+1:]
}

func (p Problem) String() string {
	var parts []string
	for _, s := range []string{p.Title, p.Detail, p.Reason} {
		if s = plain(s); s != "" {
			parts = append(parts, s)
		}
	}
	s := strings.Join(parts, ": ")
	if n := p.Name(); n != "" && n != "blank" {
		s += " (" + plain(n) + ")"
	}
	return s
}

// ParseProblem reads a problem body; nil when it is not one.
func ParseProblem(body []byte) *Problem {
	var p Problem
	if json.Unmarshal(body, &p) != nil {
		return nil
	}
	if p.Title == "" && p.Detail == "" && p.Reason == "" && p.Type == "" {
		return nil
	}
	return &p
}

var (
	htmlTitle = regexp.MustCompile(`(?is)<title[^>]*>(.*?)</title>`)
	htmlStart = regexp.MustCompile(`(?is)^\s*(<!doctype\s+html|<html|<head|<body)`)
)

// htmlPage names an HTML page that came where a document was expected.
func htmlPage(contentType string, body []byte) (string, bool) {
	if contentType != "text/html" && !htmlStart.Match(body) {
		return "", false
	}
	if m := htmlTitle.FindSubmatch(body); m != nil {
		return "an HTML page titled “" + plain(string(m[1])) + "” instead of data", true
	}
	return "an HTML page instead of data", true
}

// plain makes foreign text fit for one line of a log.
func plain(s string) string {
	s = strings.Join(strings.Fields(strings.ToValidUTF8(s, "?")), " ")
	if len(s) > 200 {
		s = strings.ToValidUTF8(s[:200], "") + "…"
	}
	return s
}
