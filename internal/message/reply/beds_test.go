package reply

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/unit"
)

func TestRepliesThatNameBeds(t *testing.T) {
	beds := []string{"A1", "A2", "Bed 3", "4", "North 10", "North", "a1", "Stop", "All", "Ñandú 2", "🥕", "50"}
	none := -1.0
	for _, c := range []struct {
		text string
		word Word
		kg   float64
		beds [][]int
	}{
		{"HARVESTED A2", Harvested, none, [][]int{{1}}},
		{"harvested a2 40 kg", Harvested, 40, [][]int{{1}}},
		{"harvested 40kg A2", Harvested, 40, [][]int{{1}}},
		{"harvested a-2, thanks", Harvested, none, [][]int{{1}}},
		{"COVERED A2 and bed 3", Covered, none, [][]int{{1}, {2}}},
		{"A2 seen", Seen, none, [][]int{{1}}},
		{"leave A2", LeaveIt, none, [][]int{{1}}},
		{"cubierto A2 y bed 3", Covered, none, [][]int{{1}, {2}}},
		{"cosechado nandu 2 12,5 kg", Harvested, 12.5, [][]int{{9}}},
		{"cosechado bancal A2", Harvested, none, [][]int{{1}}},
		{"harvested A1", Harvested, none, [][]int{{0, 6}}}, // two are called so
		{"harvested north 10", Harvested, none, [][]int{{4}}},
		{"harvested north 10 kg", Unknown, none, nil}, // bed and unit do not fit
		{"harvested north", Harvested, none, [][]int{{5}}},
		{"harvested bed 4", Harvested, none, [][]int{{3}}},
		{"covered beds 4, 50 and A2, 4", Covered, none, [][]int{{3}, {11}, {1}}},
		{"harvested bed 4 50 kg", Harvested, 50, [][]int{{3}}},
		{"harvested 4 kg", Harvested, 4, nil},
		{"harvested 4", Unknown, none, nil}, // a bed or a weight?
		{"harvested A2 50", Unknown, none, nil},
		{"harvested bed A2 50 kg", Harvested, 50, [][]int{{1}}},
		{"harvested all", Harvested, none, nil}, // a bed called so cannot be named
		{"STOP A2", Stop, none, nil},
		{"harvested A9", Unknown, none, nil},
		{"harvested A2 not bed 3", Unknown, none, nil},
		{"harvested all but A2", Unknown, none, nil},
		{"harvested A2 covered bed 3", Unknown, none, nil},
		{"A2", Unknown, none, nil},
		{"A2 help", Unknown, none, nil},
		{"A2 40 kg", Unknown, none, nil},
		{"harvested and", Unknown, none, nil},
	} {
		m := understood.Parse(c.text, "", beds)
		assert.Equal(t, c.word, m.Word, "%q", c.text)
		assert.Equal(t, c.beds, m.Beds, "%q", c.text)
		assert.InDelta(t, c.kg, m.Kg.Else(none), 1e-9, "%q", c.text)
	}
}

func TestANumberAfterANameIsAWeight(t *testing.T) {
	m := understood.Parse("harvested A2 40", unit.US, []string{"A2"})
	assert.Equal(t, [][]int{{0}}, m.Beds)
	assert.InDelta(t, 18.1436948, m.Kg.Else(0), 1e-9)
}

func FuzzParseAboutBeds(f *testing.F) {
	f.Add("harvested A1 40 kg", "A1", "4")
	f.Add("bed 4", "bed", "4 4")
	f.Add("\xff", "", "ñ")
	f.Fuzz(func(t *testing.T, text, a, b string) {
		m := understood.Parse(text, unit.Metric, []string{a, b})
		if m.Word == Unknown && (m.Kg.Known() || m.Beds != nil) {
			t.Fatalf("%q: not understood, yet %+v", text, m)
		}
		for _, at := range m.Beds {
			if len(at) == 0 || at[0] < 0 || at[len(at)-1] > 1 {
				t.Fatalf("%q: %+v", text, m)
			}
		}
	})
}
