package browsertest

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The other tests say that nothing was complained of and nobody else asked. This
// one shows that they would have noticed: a page with the same policy that breaks
// it, and one without that loads from elsewhere.
func TestBrokenPoliciesAndStrangersAreNoticed(t *testing.T) {
	elsewhere := httptest.NewServer(http.NotFoundHandler())
	t.Cleanup(elsewhere.Close)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		if r.URL.Path == "/strict" {
			w.Header().Set("Content-Security-Policy", "default-src 'none'")
		}
		_, _ = w.Write([]byte(`<!DOCTYPE html><title>x</title><p>x<script>document.title = 'y'</script><img alt="" src="` + elsewhere.URL + `/x.png">`))
	}))
	t.Cleanup(s.Close)
	host := s.Listener.Addr().String()
	b := open(t)
	require.Equal(t, 200, b.goes(s.URL+"/strict"))
	assert.Len(t, b.complaints(), 2, "a script and a picture")
	assert.Equal(t, "x", b.text("title"))
	b.forget()
	require.Equal(t, 200, b.goes(s.URL+"/open"))
	assert.Equal(t, []string{elsewhere.URL + "/x.png"}, b.strangers(host))
}
