package fetch

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/forecast"
)

// Bounds on what headers may say. Own defaults.
const (
	longestExpires = 6 * time.Hour   // an absurd Expires must not blind us
	longestRetry   = 6 * time.Hour   // nor an absurd Retry-After
	retryLimited   = time.Minute     // 429 without Retry-After
	clockSlack     = 5 * time.Minute // difference from the service's clock that is told
)

// read turns an HTTP answer into a Response or an *Error, and closes it.
func (c *Client) read(r Request, res *http.Response) (Response, error) {
	defer func() { _ = res.Body.Close() }()
	now := c.now()
	e := &Error{URL: r.URL, Status: res.StatusCode, RequestID: plain(res.Header.Get("X-Correlation-Id"))}
	if res.StatusCode == http.StatusNotModified {
		return c.response(res, now, nil), nil
	}
	body, err := io.ReadAll(io.LimitReader(res.Body, maxBody+1))
	switch {
	case err != nil:
		e.Kind, e.Reason, e.Cause = forecast.ErrUnavailable, "the answer breaks off", err
		return Response{}, e
	case len(body) > maxBody:
		e.Kind, e.Reason = forecast.ErrUnusable, fmt.Sprintf("the answer is longer than %d MiB", maxBody>>20)
		return Response{}, e
	case res.StatusCode/100 != 2:
		return Response{}, failed(e, res.Header, body, now)
	}
	if e.Reason, e.Kind = unreadable(res.Header.Get("Content-Type"), body); e.Kind != nil {
		return Response{}, e
	}
	return c.response(res, now, body), nil
}

func (c *Client) response(res *http.Response, now time.Time, body []byte) Response {
	out := Response{
		Body: body, NotModified: res.StatusCode == http.StatusNotModified, Fetched: now,
		Expires: expires(res.Header, now), LastModified: res.Header.Get("Last-Modified"), ETag: res.Header.Get("ETag"),
	}
	if req := res.Request; out.NotModified && req != nil {
		out.LastModified = orElse(out.LastModified, req.Header.Get("If-Modified-Since"))
		out.ETag = orElse(out.ETag, req.Header.Get("If-None-Match"))
	}
	if w := skew(res.Header, now); w != "" {
		out.Warnings = append(out.Warnings, w)
	}
	if res.StatusCode == http.StatusNonAuthoritativeInfo {
		out.Warnings = append(out.Warnings, "HTTP 203: the service marks this product as deprecated or in test; it may be withdrawn within weeks")
		out.LastModified, out.ETag = "", ""
	}
	return out
}

func orElse(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// failed names an answer that is neither 2xx nor 304.
func failed(e *Error, h http.Header, body []byte, now time.Time) error {
	media, _, _ := mime.ParseMediaType(h.Get("Content-Type"))
	if page, ok := htmlPage(media, body); ok {
		e.Reason = page
	} else {
		e.Problem = ParseProblem(body)
	}
	if e.Problem != nil && e.RequestID == "" {
		e.RequestID = plain(e.Problem.CorrelationID)
	}
	e.RetryAfter = retryAfter(h, now)
	switch s := e.Status; {
	case s == http.StatusForbidden || s == http.StatusUnauthorized:
		e.Kind, e.RetryAfter = forecast.ErrRefused, now.Add(stopFor)
		e.Reason = strings.TrimSuffix("check the contact in the settings and the service's terms; "+e.Reason, "; ")
	case s == http.StatusTooManyRequests:
		e.Kind = forecast.ErrLimited
		if e.RetryAfter.IsZero() {
			e.RetryAfter = now.Add(retryLimited)
		}
	case s == http.StatusNotFound || s == http.StatusGone:
		e.Kind, e.RetryAfter = forecast.ErrNotFound, time.Time{}
	case s >= 500 || s == http.StatusRequestTimeout:
		e.Kind = forecast.ErrUnavailable
	default:
		e.Kind, e.RetryAfter = forecast.ErrRejected, time.Time{}
	}
	return e
}

// unreadable says why a good answer cannot be parsed; empty when it can.
// Without a Content-Type the body's first sign decides (RFC 9110 §8.3 lets the
// recipient look).
func unreadable(contentType string, body []byte) (reason string, kind error) {
	if len(bytes.TrimSpace(body)) == 0 {
		return "the answer is empty", forecast.ErrEmpty
	}
	media, params, err := mime.ParseMediaType(contentType)
	if page, ok := htmlPage(media, body); ok {
		return page, forecast.ErrPage
	}
	if contentType == "" {
		if b := bytes.TrimSpace(body)[0]; b != '{' && b != '[' {
			return "neither a content type nor JSON", forecast.ErrNoJSON
		}
		return "", nil
	}
	if err != nil || media != "application/json" && !strings.HasSuffix(media, "+json") {
		return fmt.Sprintf("content type %q where JSON was asked for", plain(contentType)), forecast.ErrNoJSON
	}
	if cs := strings.ToLower(params["charset"]); cs != "" && cs != "utf-8" && cs != "utf8" && cs != "us-ascii" {
		return fmt.Sprintf("character set %q: JSON is UTF-8", plain(cs)), forecast.ErrNoJSON
	}
	return "", nil
}

// expires is when the document may be asked for again: Cache-Control max-age
// less the Age it has already, else Expires; zero when neither is stated.
func expires(h http.Header, now time.Time) time.Time {
	until := time.Time{}
	if t, err := http.ParseTime(h.Get("Expires")); err == nil {
		until = t
		if date, err := http.ParseTime(h.Get("Date")); err == nil {
			until = now.Add(t.Sub(date) - age(h)) // free of the difference between the clocks
		}
	}
	if d, ok := maxAge(h.Get("Cache-Control")); ok {
		until = now.Add(d - age(h))
	}
	switch {
	case !until.After(now):
		return time.Time{}
	case until.After(now.Add(longestExpires)):
		return now.Add(longestExpires)
	}
	return until
}

func maxAge(cacheControl string) (time.Duration, bool) {
	for part := range strings.SplitSeq(cacheControl, ",") {
		name, value, _ := strings.Cut(strings.TrimSpace(part), "=")
		switch strings.ToLower(name) {
		case "no-cache", "no-store":
			return 0, true
		case "max-age":
			if s, err := strconv.Atoi(strings.Trim(value, `"`)); err == nil && s >= 0 {
				return min(time.Duration(s), 1<<31) * time.Second, true
			}
		}
	}
	return 0, false
}

func age(h http.Header) time.Duration {
	s, err := strconv.Atoi(h.Get("Age"))
	if err != nil || s < 0 {
		return 0
	}
	return min(time.Duration(s), 1<<31) * time.Second
}

func retryAfter(h http.Header, now time.Time) time.Time {
	raw := h.Get("Retry-After")
	until := time.Time{}
	if s, err := strconv.Atoi(raw); err == nil && s >= 0 {
		until = now.Add(min(time.Duration(s), 1<<31) * time.Second)
	} else if t, err := http.ParseTime(raw); err == nil {
		until = t
	}
	if until.After(now.Add(longestRetry)) {
		until = now.Add(longestRetry)
	}
	if !until.After(now) {
		return time.Time{}
	}
	return until
}

// skew compares the service's clock with ours; a warning when they differ.
func skew(h http.Header, now time.Time) string {
	date, err := http.ParseTime(h.Get("Date"))
	if err != nil {
		return ""
	}
	d := now.Sub(date.Add(age(h)))
	if d.Abs() <= clockSlack {
		return ""
	}
	return fmt.Sprintf("this computer's clock differs by %s from the service's; deadlines depend on it", d.Round(time.Second))
}

// OutsideOr gives err as ErrOutside when it is an ErrNotFound.
func OutsideOr(err error) error {
	if errors.Is(err, forecast.ErrNotFound) {
		return As(err, forecast.ErrOutside)
	}
	return err
}
