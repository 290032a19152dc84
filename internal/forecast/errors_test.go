package forecast

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

type answered struct{ error }

func (answered) Answer() string { return "503 Service Unavailable" }

func TestEveryErrorOfASourceHasAName(t *testing.T) {
	for err, want := range map[error]string{ErrOutside: "outside", ErrMoved: "moved", ErrNotFound: "not_found", ErrRefused: "refused", ErrLimited: "limited",
		ErrRejected: "rejected", ErrUnavailable: "unavailable", ErrUnusable: "unusable", ErrEmpty: "empty", ErrPage: "page", ErrNoJSON: "no_json", ErrNoPast: "no_past", errors.ErrUnsupported: Other} {
		assert.Equal(t, want, Kind(fmt.Errorf("fetch: %w", err)))
		assert.Contains(t, Kinds(), want)
	}
	assert.Equal(t, "outside", Kind(errors.Join(ErrNotFound, ErrOutside)), "what a status means here comes before the status")
	assert.Equal(t, "503 Service Unavailable", Answer(fmt.Errorf("fetch: %w", answered{ErrUnavailable})))
	assert.Empty(t, Answer(ErrUnavailable))
}
