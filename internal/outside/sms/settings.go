// Package sms sends short messages through an HTTP gateway that is described by
// templates, and reads what people send back.
package sms

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// DefaultTimeout bounds one call of the gateway.
const DefaultTimeout = 30 * time.Second

// Settings describe the gateway. URL, Body and the values of Headers are
// text/template templates over {{.To}} {{.Text}} {{.Key}} {{.From}}; escape with
// {{json .Text}} (with its quotes), {{form .Text}}, {{query .Text}} or
// {{xml .Text}}; {{digits .To}} drops the plus sign.
type Settings struct {
	URL         string
	Method      string // empty: POST
	Headers     map[string]string
	Body        string
	From        string // sender number or name, for {{.From}}
	Success     string // status codes that mean accepted: "2xx" (default), "200,202", "200-204"
	SuccessBody string // regular expression the answer must match too; empty: any answer
	Timeout     time.Duration
}

func (s Settings) withDefaults() Settings {
	if s.Method == "" {
		s.Method = http.MethodPost
	}
	if s.Success == "" {
		s.Success = "2xx"
	}
	if s.Timeout == 0 {
		s.Timeout = DefaultTimeout
	}
	return s
}

// Warning is what the operator must be told aloud at start-up; empty where all is well.
func (s Settings) Warning() string {
	u, err := url.Parse(strings.SplitN(s.URL, "{{", 2)[0])
	if err != nil || u.Scheme != "http" || loopback(u.Hostname()) {
		return ""
	}
	return fmt.Sprintf("text messages go UNENCRYPTED to %s (sms url begins with http): anyone on the way can read the numbers and the password of the gateway", u.Host)
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback()
}

func (s Settings) check() error {
	switch {
	case s.URL == "":
		return errors.New("sms url: is empty")
	case s.Method != http.MethodPost && s.Method != http.MethodPut && s.Method != http.MethodGet:
		return fmt.Errorf("sms method %q: must be POST, PUT or GET", s.Method)
	case s.Method == http.MethodGet && s.Body != "":
		return errors.New("sms body: a GET has none; put the fields into sms url or set sms method to POST")
	case s.Timeout < 0:
		return fmt.Errorf("sms timeout %s: must be positive", s.Timeout)
	}
	return nil
}

// codes is a set of status codes, as ranges.
type codes [][2]int

func (c codes) hold(status int) bool {
	for _, r := range c {
		if r[0] <= status && status <= r[1] {
			return true
		}
	}
	return false
}

var codeRule = regexp.MustCompile(`^(?:([2])xx|([2]\d\d)(?:-([2]\d\d))?)$`)

// parseCodes reads "2xx", "200,202", "200-204". Only 2xx codes can mean accepted.
func parseCodes(rule string) (codes, error) {
	var c codes
	for item := range strings.SplitSeq(rule, ",") {
		m := codeRule.FindStringSubmatch(strings.TrimSpace(item))
		if m == nil {
			return nil, fmt.Errorf("sms success %q: must be like 2xx, 200,202 or 200-204", rule)
		}
		if m[1] != "" {
			c = append(c, [2]int{200, 299})
			continue
		}
		from, _ := strconv.Atoi(m[2])
		to := from
		if m[3] != "" {
			to, _ = strconv.Atoi(m[3])
		}
		if to < from {
			return nil, fmt.Errorf("sms success %q: a range must go upwards", rule)
		}
		c = append(c, [2]int{from, to})
	}
	return c, nil
}
