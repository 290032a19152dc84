package microclimate_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/microclimate"

	"winterstand/internal/unit"
)

// flat covers lie on the ground or on the plants: no roof that snow loads, no
// air that people breathe. Every other cover must warn of its load, and one that
// keeps the snow off is high enough to go in and to heat.
var flat = []microclimate.Cover{microclimate.NoCover, microclimate.RowCoverLight, microclimate.RowCoverHeavy}

func TestEveryRoofDeclaresItsCautions(t *testing.T) {
	for _, c := range microclimate.Covers() {
		declared := c.Shelter().Cautions
		assert.Subset(t, microclimate.Cautions(), declared, c)
		assert.Equal(t, !slices.Contains(flat, c), slices.Contains(declared, microclimate.SnowLoad), c)
		assert.Equal(t, c.Shelter().KeepsSnow, slices.Contains(declared, microclimate.ClosedAir), c)
	}
}

// A cover with another name is warned of like any: what it declares stands in
// the message, whether it lies on the bed or is offered.
func TestAnInventedCoverIsWarnedOf(t *testing.T) {
	defer microclimate.Invent("dome", microclimate.Shelter{NightGain: 3, Cautions: []microclimate.Caution{microclimate.SnowLoad, microclimate.ClosedAir}})()
	s := phrase.Speaker{Book: phrase.MustLoad(), Language: "en", Units: unit.US, Zone: time.UTC}
	on := farm.Verdict{State: farm.TooLate, Cover: "dome"}
	offered := farm.Verdict{State: farm.TooLate, Cover: "none", Helps: []farm.Help{{Cover: "dome"}}}
	for _, v := range []farm.Verdict{on, offered} {
		l, err := notice.Compose(s, []notice.Facts{{Kind: notice.HarvestBefore, Bed: "B1", BedID: 1, Crop: "chard", Zone: "UTC", Night: "2026-11-18", Verdict: &v}}, notice.Links{}, time.Now(), nil)
		require.NoError(t, err)
		assert.Contains(t, l.Text, "loaded with snow")
		assert.Contains(t, l.Text, "carbon monoxide")
	}
}
