package app

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
)

// hands is what the service has in hand: requests, letters and jobs under way.
type hands struct {
	mu   sync.Mutex
	held map[string]int
}

// take notes that something begins and gives what is to be called at its end.
func (h *hands) take(what string) (done func()) {
	h.add(what, 1)
	return func() { h.add(what, -1) }
}

func (h *hands) add(what string, n int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.held == nil {
		h.held = map[string]int{}
	}
	if h.held[what] += n; h.held[what] == 0 {
		delete(h.held, what)
	}
}

func (h *hands) empty() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.held) == 0
}

// String names what is in hand, with its number where it is more than one.
func (h *hands) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	var names []string
	for _, what := range slices.Sorted(maps.Keys(h.held)) {
		if n := h.held[what]; n > 1 {
			what = fmt.Sprintf("%s (%d times)", what, n)
		}
		names = append(names, what)
	}
	if len(names) == 0 {
		return "nothing that has a name"
	}
	return strings.Join(names, ", ")
}

// counted has requests in hand. Of a path the first part alone is named: what
// follows may be somebody's secret link.
func (s *Service) counted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		first, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		defer s.hands.take(r.Method + " /" + first)()
		next.ServeHTTP(w, r)
	})
}
