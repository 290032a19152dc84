package timezone

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Towns near borders of zones, with the zone that their people keep. Coordinates
// and zones from memory.
var towns = []struct {
	name        string
	north, east float64
	zone        string
}{
	{"Minneapolis", 44.98, -93.27, "America/Chicago"},
	{"Caribou, Maine", 46.86, -68.01, "America/New_York"},
	{"Edmundston, New Brunswick", 47.37, -68.33, "America/Moncton"},
	{"Rivière-du-Loup", 47.83, -69.53, "America/Toronto"},
	{"Halifax", 44.65, -63.57, "America/Halifax"},
	{"St. John's", 47.56, -52.71, "America/St_Johns"},
	{"Pierre, South Dakota", 44.37, -100.35, "America/Chicago"},
	{"Rapid City", 44.08, -103.23, "America/Denver"},
	{"Phenix City, Alabama", 32.47, -85.00, "America/New_York"}, // lives by the clock across the river
	{"Opelika, Alabama", 32.65, -85.38, "America/Chicago"},
	{"Columbus, Georgia", 32.49, -84.94, "America/New_York"},
	{"Phoenix", 33.45, -112.07, "America/Phoenix"},
	{"Window Rock", 35.68, -109.05, "America/Denver"},
	{"Ironwood, Michigan", 46.45, -90.17, "America/Menominee"},
	{"Marquette, Michigan", 46.54, -87.40, "America/Detroit"},
	{"Boise", 43.62, -116.20, "America/Boise"},
	{"Spokane", 47.66, -117.43, "America/Los_Angeles"},
	{"Regina", 50.45, -104.62, "America/Regina"},
	{"Winnipeg", 49.90, -97.14, "America/Winnipeg"},
	{"Calgary", 51.05, -114.07, "America/Edmonton"},
	{"Fairbanks", 64.84, -147.72, "America/Anchorage"},
	{"Tijuana", 32.51, -117.02, "America/Tijuana"},
	{"Trondheim", 63.43, 10.40, "Europe/Oslo"},
	{"Kirkenes", 69.73, 30.05, "Europe/Oslo"},
	{"Haparanda", 65.83, 24.13, "Europe/Stockholm"},
	{"Tornio", 65.85, 24.15, "Europe/Helsinki"},
	{"Tromsø", 69.65, 18.96, "Europe/Oslo"},
	{"Valga", 57.78, 26.05, "Europe/Tallinn"},
	{"Valka", 57.77, 26.01, "Europe/Riga"},
	{"Narva", 59.38, 28.18, "Europe/Tallinn"},
	{"Badajoz", 38.88, -6.97, "Europe/Madrid"},
	{"Elvas", 38.88, -7.16, "Europe/Lisbon"},
	{"Irun", 43.34, -1.79, "Europe/Madrid"},
	{"Hendaye", 43.36, -1.77, "Europe/Paris"},
	{"Newry", 54.18, -6.34, "Europe/London"},
	{"Dundalk", 54.00, -6.40, "Europe/Dublin"},
	{"Edinburgh", 55.95, -3.19, "Europe/London"},
	{"Reykjavík", 64.15, -21.94, "Atlantic/Reykjavik"},
	{"Edirne", 41.68, 26.56, "Europe/Istanbul"},
	{"Svilengrad", 41.77, 26.20, "Europe/Sofia"},
	{"Sapporo", 43.06, 141.35, "Asia/Tokyo"},
	{"Kathmandu", 27.72, 85.32, "Asia/Kathmandu"},
	{"Raxaul", 26.98, 84.85, "Asia/Kolkata"},
	{"Broken Hill", -31.95, 141.45, "Australia/Broken_Hill"},
	{"Albury", -36.08, 146.92, "Australia/Sydney"},
	{"Wodonga", -36.12, 146.89, "Australia/Melbourne"},
	{"Invercargill", -46.41, 168.35, "Pacific/Auckland"},
	{"Ushuaia", -54.80, -68.30, "America/Argentina/Ushuaia"},
	{"Punta Arenas", -53.16, -70.91, "America/Punta_Arenas"},
}

func TestTownsNearBordersKeepTheirZone(t *testing.T) {
	for _, town := range towns {
		assert.Equal(t, town.zone, At(town.north, town.east), town.name)
	}
}

func TestAtSeaTheZoneIsNautical(t *testing.T) {
	for want, at := range map[string][2]float64{
		"Etc/GMT+2": {45, -35}, "Etc/GMT": {0, 0}, "Etc/GMT-10": {20, 150}, "Etc/GMT+12": {0, -179.9},
	} {
		got := At(at[0], at[1])
		assert.Equal(t, want, got)
		assert.True(t, AtSea(got))
	}
	assert.False(t, AtSea("Europe/Oslo"))
}

func TestWhatNoBoundaryHoldsIsNautical(t *testing.T) {
	for longitude, want := range map[float64]string{0: "Etc/GMT", 7.4: "Etc/GMT", 7.6: "Etc/GMT-1", -7.6: "Etc/GMT+1", 180: "Etc/GMT-12", -180: "Etc/GMT+12"} {
		assert.Equal(t, want, nautical(longitude))
	}
	assert.Empty(t, find(nil, point{}))
}

// Wherever a point lies, its zone is one that the program can load.
func TestEveryZoneOfTheDataIsKnown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := At(rapid.Float64Range(-90, 90).Draw(t, "north"), rapid.Float64Range(-180, 180).Draw(t, "east"))
		_, err := time.LoadLocation(name)
		require.NoError(t, err)
	})
}

func TestTheMemoryOfAnswersIsBounded(t *testing.T) {
	m := memory{names: map[point]string{}}
	for i := range mostAnswers + 1 {
		m.put(point{i, 0}, "x")
	}
	assert.Len(t, m.names, 1)
}

// The example of the polyline's own description.
func TestDifferenceReadsThePublishedExample(t *testing.T) {
	n, rest := difference([]byte("`~oia@z"))
	assert.Equal(t, -17998321, n)
	assert.Equal(t, "z", string(rest))
}

func FuzzFind(f *testing.F) {
	f.Add([]byte("\x12\x0e\x0a\x08\x0a\x06`~oia@\x12\x02zz"), 1, 1)
	f.Fuzz(func(t *testing.T, data []byte, north, east int) { find(data, point{north, east}) })
}

func BenchmarkFind(b *testing.B) {
	for i := range b.N {
		answers = memory{names: map[point]string{}}
		At(63.4+float64(i%100)/1e3, 10.4)
	}
}
