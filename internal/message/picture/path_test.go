package picture

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Path data by the SVG grammar (W3C, SVG 1.1, 8.3): a point to begin at, then steps;
// a minus sign parts numbers as a space does, and no zero stands before a point.
func TestPathsAreWrittenAsSteps(t *testing.T) {
	square := []pt{{1, 2}, {11, 2}, {11, 12}, {1, 12}}
	assert.Equal(t, "M1 2l10 0 0 10-10 0z", path([][]pt{square}, "z"))
	assert.Equal(t, "M1 2l10 0 0 10-10 0", path([][]pt{square}, ""))
	assert.Equal(t, "M0 0l5-5M-3-4l.5 0", path([][]pt{{{0, 0}, {5, -5}}, nil, {{-3, -4}, {-2.5, -4}}}, ""))
	assert.Equal(t, "M0 0l-.5 .5", path([][]pt{{{0, 0}, {-0.5, 0.5}}}, ""))
	assert.Empty(t, path(nil, "z"))
	assert.Empty(t, path([][]pt{nil}, "z"), "nothing is not closed")
}
