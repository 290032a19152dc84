package fetch

import (
	"fmt"
	"net"
	"net/url"
	"strings"
)

// Base is where a service lives: its public address or a stand-in's.
type Base struct{ u url.URL }

// ParseBase reads a base URL. Plain http is accepted only for one's own
// machines: loopback and private addresses, names without a dot.
func ParseBase(raw string) (Base, error) {
	u, err := url.Parse(strings.TrimRight(strings.TrimSpace(raw), "/"))
	if err != nil || u.Host == "" || u.RawQuery != "" || u.Fragment != "" || u.User != nil {
		return Base{}, fmt.Errorf("base_url %q: must be an address like https://api.example.org", raw)
	}
	switch {
	case u.Scheme == "https":
	case u.Scheme == "http" && ownHost(u.Hostname()):
	default:
		return Base{}, fmt.Errorf("base_url %q: must begin with https:// (http:// only for a server of your own on this machine or network)", raw)
	}
	return Base{u: *u}, nil
}

func ownHost(name string) bool {
	if ip := net.ParseIP(name); ip != nil {
		return ip.IsLoopback() || ip.IsPrivate() || ip.IsLinkLocalUnicast()
	}
	for _, suffix := range []string{".localhost", ".local", ".internal", ".test"} {
		if strings.HasSuffix(name, suffix) {
			return true
		}
	}
	return !strings.Contains(name, ".")
}

// String is the address without a trailing slash.
func (b Base) String() string { return b.u.String() }

// URL is the address of a path under the base, with a query that may be nil.
// The path is taken as written, already escaped where it needs to be.
func (b Base) URL(path string, query url.Values) string {
	s := b.u.String() + path
	if len(query) > 0 {
		s += "?" + query.Encode()
	}
	return s
}

// Link turns a link found in a document, which names the service's public host,
// into the same path and query under the base.
func (b Base) Link(raw string) (string, error) {
	u, err := url.Parse(raw)
	if err != nil {
		return "", fmt.Errorf("link %q: not an address", plain(raw))
	}
	if u.Scheme != "https" && u.Scheme != "http" && !(u.Scheme == "" && u.Host == "") || !strings.HasPrefix(u.Path, "/") {
		return "", fmt.Errorf("link %q: must be an https address or an absolute path", plain(raw))
	}
	s := b.u.String() + u.EscapedPath()
	if strings.Contains(u.Path, "/../") || strings.HasSuffix(u.Path, "/..") {
		return "", fmt.Errorf("link %q: must not climb directories", plain(raw))
	}
	if u.RawQuery != "" {
		s += "?" + u.RawQuery
	}
	return s, nil
}
