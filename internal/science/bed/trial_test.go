package bed_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
)

// A member without error, over a typical plant and cover, is what the book
// itself would go through.
func TestAnExactMemberIsTheBooksOwnFuture(t *testing.T) {
	class, plants := wholeAutumn(t)
	for i := range plants {
		plants[i].Found = nil // a course to come knows no findings
	}
	hours := autumn(70 * 24)
	past, coming := hours[:60*24], hours[60*24:]
	book := bed.NewBook(&class, plants, september)
	require.NoError(t, book.Advance(&class, plants, past))
	courses, err := bed.Try(&book, &class, plants, make([]unit.Kelvins, len(plants)), coming, exactly(len(coming)))
	require.NoError(t, err)
	before := book.Ground
	for i := range coming {
		require.NoError(t, book.Advance(&class, plants, coming[i:i+1]))
		for p := range plants {
			c, s := courses[p][0], book.Plants[plants[p].Key()]
			require.Equal(t, float32(s.Loss()), c.Loss[i], "%s %s", plants[p].Crop.Name, coming[i].At)
			require.Equal(t, float32(s.Sold.Survival), c.Life[i])
			require.Equal(t, float32(s.Crown.Survival), c.CrownLife[i])
			require.Equal(t, float32(plants[p].Threshold(s)), c.Threshold[i])
			require.Equal(t, float32(plants[p].CrownThreshold(s)), c.CrownThreshold[i])
			require.Equal(t, float32(book.Ground.FrozenCm()), c.Frost[i])
			require.Equal(t, float32(book.Ground.SoilAt(5)), c.Soil5[i])
			at := class.At(coming[i])
			air, _ := at.Air.Get()
			require.Equal(t, float32(air), c.Air[i])
			felt, err := plants[p].TissueIn(&book.Ground, &class.Site, class.Dressing(at.At), at)
			require.NoError(t, err)
			require.Equal(t, float32(felt.Sold), c.Sold[i], "leaves that share a reading share it rightly")
			require.Equal(t, float32(felt.Crown), c.Crown[i])
			require.Equal(t, float32(felt.Snow), c.Snow[i])
		}
	}
	assert.NotEqual(t, before, book.Ground)
}

// Trying must not touch the book, and the same trial gives the same bits.
func TestTryingChangesNothing(t *testing.T) {
	class, plants := wholeAutumn(t)
	book := bed.NewBook(&class, plants, september)
	require.NoError(t, book.Advance(&class, plants, autumn(48)))
	saved, err := book.Save()
	require.NoError(t, err)
	coming := autumn(96)[48:]
	members := []bed.Member{shifted(48, -6, 1), shifted(48, 4, -1)}
	spread := []unit.Kelvins{1, 1.5, 2, 0.5}
	first, err := bed.Try(&book, &class, plants, spread, coming, members)
	require.NoError(t, err)
	again, err := bed.Try(&book, &class, plants, spread, coming, members)
	require.NoError(t, err)
	assert.Equal(t, first, again)
	after, err := book.Save()
	require.NoError(t, err)
	assert.Equal(t, string(saved), string(after))
}

// Each member has its own error of the air, its own plants and its own cover.
func TestMembersDifferByWhatTheyDrew(t *testing.T) {
	p := plantsOf(t, "chard")[0]
	class := open(p.Crop)
	class.Spans[0].Cover = "row_cover_heavy"
	book := bed.NewBook(&class, []bed.Plant{p}, noon)
	hours := night(noon, 5, -6)
	cover := shifted(24, 0, 0)
	cover.Cover = 2
	got := try(t, &book, &class, p, hours, []bed.Member{shifted(24, 0, 0), shifted(24, -2, 0), shifted(24, 0, 1), cover})
	const sunrise = 18
	assert.InDelta(t, -2, got[1].Air[sunrise]-got[0].Air[sunrise], 1e-5)
	assert.InDelta(t, float64(p.Crop.Spread), got[2].Threshold[0]-got[0].Threshold[0], 1e-5)
	assert.Equal(t, got[0].Sold, got[2].Sold)
	assert.InDelta(t, 2.8, got[3].Sold[sunrise]-got[0].Sold[sunrise], 0.2, "two σ of the gain, each half of 2.8 K")
}

func TestAPlantThatIsNotThereYetIsNotHurt(t *testing.T) {
	p := plantsOf(t, "chard")[0]
	p.Since = noon.Add(30 * 24 * time.Hour)
	class := open(p.Crop)
	book := bed.NewBook(&class, []bed.Plant{p}, noon)
	got := try(t, &book, &class, p, night(noon, 0, -25), exactly(24))
	assert.Zero(t, got[0].Loss[23])
}
