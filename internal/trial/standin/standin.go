// Package standin is a local server that speaks the wire format of the US
// National Weather Service's API from an invented course of weather: for
// demonstrations, rehearsals and tests. It serves the documents with the
// service's public host in their links, as the service itself does, so that a
// client has to bring them back to where it asked.
package standin

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// publicHost is named in every link.
const publicHost = "https://api.weather.gov"

// Place is one point with a forecast. The zero Office, X and Y are made from
// its place in the list.
type Place struct {
	Name      string // "Riverside Field"
	Latitude  float64
	Longitude float64
	Elevation unit.Maybe[float64] // m
	TimeZone  string              // IANA
	Office    string              // three letters
	X, Y      int
	Station   string // four letters
}

// Warning is an official warning to pass on.
type Warning struct {
	Event        string // "Freeze Warning"
	Phenomenon   string // VTEC: FZ, HZ, EC, CW
	Significance string // W, A, Y
	Action       string // VTEC; empty: NEW
	Number       int
	Sent         time.Time
	Onset, Ends  time.Time
	Headline     string
}

// Document is a fixed answer.
type Document struct {
	ContentType string
	Body        []byte
	Status      int // 0: 200
}

// Options of a stand-in. Now, Places and Forecast are needed.
type Options struct {
	Places []Place
	Now    func() time.Time
	// Forecast is what was forecast for a place at a time of issue: hours from
	// then on, in order and without gaps; it may begin some hours earlier.
	Forecast func(p Place, issued time.Time) []weather.Hour
	// Past is what happened at full hours from ≤ h < to; nil: no observations.
	Past func(p Place, from, to time.Time) []weather.Hour
	// Warnings are the warnings listed for a place now; nil: none.
	Warnings func(p Place, now time.Time) []Warning
	// IssueEvery is how often forecasts are issued, at multiples from 00 UTC;
	// zero: one hour.
	IssueEvery time.Duration
	// MinimumBelow lowers the stated night minimum below the coldest hour, as the
	// service's own minima often lie.
	MinimumBelow unit.Kelvins
	// Documents are fixed answers by path (without query), before everything else.
	Documents map[string]Document
}

type server struct{ Options }

// New makes the server. Places without a name for their grid cell or station
// get one.
func New(o Options) http.Handler {
	if o.IssueEvery <= 0 {
		o.IssueEvery = time.Hour
	}
	o.Places = slices.Clone(o.Places)
	for i := range o.Places {
		o.Places[i].fill(i)
	}
	s := &server{o}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /points/{point}", s.points)
	mux.HandleFunc("GET /gridpoints/{office}/{cell}", s.grid)
	mux.HandleFunc("GET /gridpoints/{office}/{cell}/stations", s.stations)
	mux.HandleFunc("GET /stations/{id}/observations", s.observations)
	mux.HandleFunc("GET /alerts/active", s.alerts)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.problem(w, http.StatusNotFound, "NotFound", "Not Found", fmt.Sprintf("'%s' is not a valid resource path", r.URL.Path))
	})
	return s.manners(mux)
}

func (p *Place) fill(i int) {
	if p.Office == "" {
		p.Office, p.X, p.Y = "DMO", 10+i, 20
	}
	if p.Station == "" {
		p.Station = fmt.Sprintf("KD%02d", i%100)
	}
	if p.TimeZone == "" {
		p.TimeZone = "UTC"
	}
}

// manners is what the real service does before it looks at the path: it turns
// anonymous programs away and refuses parameters it does not know.
func (s *server) manners(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Date", s.Now().UTC().Format(http.TimeFormat))
		if d, ok := s.Documents[r.URL.Path]; ok {
			d.serve(w)
			return
		}
		if r.UserAgent() == "" || strings.HasPrefix(r.UserAgent(), "Go-http-client") {
			w.Header().Set("Content-Type", "text/html")
			w.WriteHeader(http.StatusForbidden)
			_, _ = fmt.Fprint(w, "<HTML><HEAD>\n<TITLE>Access Denied</TITLE>\n</HEAD><BODY></BODY></HTML>\n")
			return
		}
		if p := unknownParameter(r.URL.Query()); p != "" {
			s.problem(w, http.StatusBadRequest, "BadRequest", "Bad Request", fmt.Sprintf("Query parameter '%s' is not recognized", p))
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (d Document) serve(w http.ResponseWriter) {
	w.Header().Set("Content-Type", d.ContentType)
	if d.Status != 0 {
		w.WriteHeader(d.Status)
	}
	_, _ = w.Write(d.Body)
}

func unknownParameter(q url.Values) string {
	for k := range q {
		switch k {
		case "limit", "start", "end", "cursor", "point", "status", "units":
		default:
			return k
		}
	}
	return ""
}

// problem answers in the form of RFC 9457.
func (s *server) problem(w http.ResponseWriter, status int, kind, title, detail string) {
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	write(w, map[string]any{
		"type": publicHost + "/problems/" + kind, "title": title, "status": status, "detail": detail,
		"correlationId": fmt.Sprintf("standin-%d", s.Now().Unix()), "instance": publicHost + "/requests/standin",
	})
}

// Clock is a settable clock that stands still between calls of Add and Set.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// NewClock starts at a time.
func NewClock(t time.Time) *Clock { return &Clock{now: t} }

// Now is the clock's time.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// Add moves the clock.
func (c *Clock) Add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// Set puts the clock to a time.
func (c *Clock) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}
