// Package settings reads one TOML file and the environment into typed values,
// strictly: an unknown key is an error with its line.
package settings

import (
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/robfig/cron/v3"
)

// Settings of one installation.
type Settings struct {
	Database  string   `toml:"database" secret:"true"` // sqlite:PATH or postgres://…
	Listen    string   `toml:"listen"`                 // host:port
	PublicURL string   `toml:"public_url"`             // where readers reach the pages
	Service   Service  `toml:"service"`
	Forecast  Forecast `toml:"forecast"`
	Mail      Mail     `toml:"mail"`
	SMS       SMS      `toml:"sms"`
	Schedule  Schedule `toml:"schedule"`
}

// Service is how the program runs.
type Service struct {
	StopWithin string `toml:"stop_within"` // duration such as 60s: how long a stop waits at most for what is in hand
}

// StopTime is StopWithin as a duration.
func (s Service) StopTime() (time.Duration, error) {
	d, err := time.ParseDuration(s.StopWithin)
	if err != nil || d <= 0 {
		return 0, fmt.Errorf("%q must be a time above 0, like 60s or 2m", s.StopWithin)
	}
	return d, nil
}

// Forecast sources and their order.
type Forecast struct {
	Sources   []string  `toml:"sources"`
	NWS       Source    `toml:"nws"`
	MetNo     Source    `toml:"metno"`
	OpenMeteo OpenMeteo `toml:"openmeteo"`
}

// Source is one public forecast service.
type Source struct {
	BaseURL string `toml:"base_url"`
	Contact string `toml:"contact"` // e-mail or address that the service may write to
}

// OpenMeteo is off unless it stands in the list of sources; its free service is
// for non-commercial use.
type OpenMeteo struct {
	BaseURL     string   `toml:"base_url"`
	EnsembleURL string   `toml:"ensemble_url"` // empty: no ensemble
	Ensembles   []string `toml:"ensembles"`    // models of the ensemble
	Contact     string   `toml:"contact"`
	APIKey      string   `toml:"api_key" secret:"true"`
}

// Mail is the outgoing server. An empty host: no e-mail.
type Mail struct {
	Host     string `toml:"host"`
	Port     int    `toml:"port"`
	User     string `toml:"user"`
	Password string `toml:"password" secret:"true"`
	From     string `toml:"from"`
	TLS      string `toml:"tls"` // starttls, implicit, none
}

// SMS is an HTTP gateway. An empty URL: no text messages.
type SMS struct {
	URL           string            `toml:"url"`
	Method        string            `toml:"method"`
	Headers       map[string]string `toml:"headers" secret:"true"`
	Body          string            `toml:"body"`
	From          string            `toml:"from"`
	Success       string            `toml:"success"`                      // status codes that mean accepted; empty: 2xx
	SuccessBody   string            `toml:"success_body"`                 // expression the answer must match too
	InboundSecret string            `toml:"inbound_secret" secret:"true"` // replies come to /sms/inbound
}

// Schedule holds cron expressions, read in UTC.
type Schedule struct {
	Poll   string `toml:"poll"`
	Sweep  string `toml:"sweep"`
	Weekly string `toml:"weekly"`
	Daily  string `toml:"daily"`
}

// Default settings: an embedded database beside the program, two public
// sources, an hourly poll.
func Default() Settings {
	return Settings{
		Database: "sqlite:winterstand.db", Listen: "127.0.0.1:8080", PublicURL: "http://127.0.0.1:8080",
		// Longer than one try of a message may take.
		Service: Service{StopWithin: "60s"},
		Forecast: Forecast{
			Sources:   []string{"nws", "metno"},
			NWS:       Source{BaseURL: "https://api.weather.gov"},
			MetNo:     Source{BaseURL: "https://api.met.no"},
			OpenMeteo: OpenMeteo{BaseURL: "https://api.open-meteo.com", EnsembleURL: "https://ensemble-api.open-meteo.com", Ensembles: []string{"icon_seamless_eps"}},
		},
		Mail:     Mail{Port: 587, TLS: "starttls"},
		SMS:      SMS{Method: "POST"},
		Schedule: Schedule{Poll: "7 * * * *", Sweep: "* * * * *", Weekly: "0 15 * * 0", Daily: "30 16 * * *"},
	}
}

// Load reads the file (missing is fine unless it was named) and the
// environment. Validate says whether the values can work.
func Load(path string, named bool, environ []string) (Settings, error) {
	s := Default()
	src, err := os.ReadFile(path)
	switch {
	case errors.Is(err, os.ErrNotExist) && !named:
	case err != nil:
		return s, fmt.Errorf("read settings: %w", err)
	default:
		if err := decode(path, src, &s); err != nil {
			return s, err
		}
	}
	return s, fromEnvironment(&s, environ)
}

func decode(path string, src []byte, s *Settings) error {
	dec := toml.NewDecoder(strings.NewReader(string(src))).DisallowUnknownFields()
	err := dec.Decode(s)
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var lines []string
		for _, e := range strict.Errors {
			row, _ := e.Position()
			lines = append(lines, fmt.Sprintf("%s:%d: unknown key %q", path, row, strings.Join(e.Key(), ".")))
		}
		return errors.New(strings.Join(lines, "\n"))
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		row, col := bad.Position()
		return fmt.Errorf("%s:%d:%d: %s", path, row, col, bad.Error())
	}
	return err
}

// Validate names every value that cannot work and what would be right.
func (s Settings) Validate() error {
	var errs []error
	bad := func(key, format string, args ...any) {
		errs = append(errs, fmt.Errorf("settings %s: %s", key, fmt.Sprintf(format, args...)))
	}
	if _, _, err := s.DatabaseKind(); err != nil {
		bad("database", "%v", err)
	}
	if _, _, err := net.SplitHostPort(s.Listen); err != nil {
		bad("listen", "%q must be host:port, like 127.0.0.1:8080", s.Listen)
	}
	checkURL(bad, "public_url", s.PublicURL)
	if _, err := s.Service.StopTime(); err != nil {
		bad("service.stop_within", "%v", err)
	}
	s.Forecast.validate(bad)
	s.Mail.validate(bad)
	s.SMS.validate(bad)
	for key, spec := range map[string]string{"poll": s.Schedule.Poll, "sweep": s.Schedule.Sweep, "weekly": s.Schedule.Weekly, "daily": s.Schedule.Daily} {
		if _, err := cron.ParseStandard(spec); err != nil {
			bad("schedule."+key, "%v", err)
		}
	}
	return errors.Join(errs...)
}

func checkURL(bad func(string, string, ...any), key, v string) {
	u, err := url.Parse(v)
	if err != nil || u.Host == "" || (u.Scheme != "http" && u.Scheme != "https") {
		bad(key, "%q must be an http or https address", v)
	}
}

func (f Forecast) validate(bad func(string, string, ...any)) {
	if len(f.Sources) == 0 {
		bad("forecast.sources", "needs at least one of nws, metno, openmeteo")
	}
	for _, name := range f.Sources {
		switch name {
		case "nws":
			checkSource(bad, "forecast.nws", f.NWS.BaseURL, f.NWS.Contact)
		case "metno":
			checkSource(bad, "forecast.metno", f.MetNo.BaseURL, f.MetNo.Contact)
		case "openmeteo":
			checkSource(bad, "forecast.openmeteo", f.OpenMeteo.BaseURL, f.OpenMeteo.Contact)
		default:
			bad("forecast.sources", "%q is not one of nws, metno, openmeteo", name)
		}
	}
}

func checkSource(bad func(string, string, ...any), key, base, contact string) {
	checkURL(bad, key+".base_url", base)
	if strings.TrimSpace(contact) == "" {
		bad(key+".contact", "must be an e-mail address or web address at which the service can reach you; it is sent with every request, as the service asks")
	}
}

func (m Mail) validate(bad func(string, string, ...any)) {
	if m.Host == "" {
		return
	}
	if m.From == "" {
		bad("mail.from", "must be the sender's address, like winterstand@example.org")
	}
	switch m.TLS {
	case "starttls", "implicit", "none":
	default:
		bad("mail.tls", "%q must be starttls, implicit or none", m.TLS)
	}
}

// leastSecret is how many characters the secret of a gateway needs.
const leastSecret = 16

func (s SMS) validate(bad func(string, string, ...any)) {
	if n := len(s.InboundSecret); n > 0 && n < leastSecret {
		bad("sms.inbound_secret", "has %d characters; it must have at least %d", n, leastSecret)
	}
	if s.URL == "" {
		return
	}
	checkURL(bad, "sms.url", s.URL)
}

// DatabaseKind splits the database setting into "sqlite" and a path, or
// "postgres" and a URL.
func (s Settings) DatabaseKind() (kind, where string, err error) {
	switch {
	case strings.HasPrefix(s.Database, "sqlite:") && len(s.Database) > len("sqlite:"):
		return "sqlite", strings.TrimPrefix(s.Database, "sqlite:"), nil
	case strings.HasPrefix(s.Database, "postgres://"), strings.HasPrefix(s.Database, "postgresql://"):
		return "postgres", s.Database, nil
	}
	return "", "", fmt.Errorf("must be sqlite:PATH or postgres://USER@HOST/NAME, not %q", hideURL(s.Database))
}

// Now is the clock: the real one, or one that starts at WINTERSTAND_NOW and runs on.
func Now(environ []string) (func() time.Time, error) {
	for _, kv := range environ {
		v, ok := strings.CutPrefix(kv, "WINTERSTAND_NOW=")
		if !ok || v == "" {
			continue
		}
		start, err := time.Parse(time.RFC3339, v)
		if err != nil {
			return nil, fmt.Errorf("WINTERSTAND_NOW=%q must be a time like 2024-01-11T17:15:00Z", v)
		}
		began := time.Now()
		return func() time.Time { return start.Add(time.Since(began)).UTC() }, nil
	}
	return func() time.Time { return time.Now().UTC() }, nil
}
