// Package timezone names the time zone of a point of the earth.
//
// The boundaries are those of timezone-boundary-builder (OpenStreetMap, ODbL),
// simplified to about a hundred metres, as the module tzf-rel-lite carries them.
// They are read through at every new question, which takes some 20 ms, so that
// nothing but the answers is held in memory.
package timezone

import (
	"fmt"
	"math"
	"strings"
	"sync"

	tzfrellite "github.com/ringsaturn/tzf-rel-lite"
)

// At gives the IANA name of the zone at a point, degrees north and east. At sea,
// and where no boundary holds the point, it is the nautical zone, Etc/GMT±n.
func At(latitude, longitude float64) string {
	at := spot(latitude, longitude)
	if name, ok := answers.get(at); ok {
		return name
	}
	name := find(tzfrellite.LiteCompressData, at)
	if name == "" {
		name = nautical(longitude)
	}
	answers.put(at, name)
	return name
}

// AtSea tells a nautical zone from one that a country keeps.
func AtSea(name string) bool { return strings.HasPrefix(name, "Etc/") }

// nautical is the zone by longitude alone; its sign counts westwards.
func nautical(longitude float64) string {
	switch n := int(math.Round(longitude / 15)); {
	case n > 0:
		return fmt.Sprintf("Etc/GMT-%d", n)
	case n < 0:
		return fmt.Sprintf("Etc/GMT+%d", -n)
	}
	return "Etc/GMT"
}

// point of the earth in the data's own steps: 1e-5 degrees, about a metre.
type point struct{ north, east int }

const stepsPerDegree = 1e5

func spot(latitude, longitude float64) point {
	return point{int(math.Round(latitude * stepsPerDegree)), int(math.Round(longitude * stepsPerDegree))}
}

// memory of answers; a service asks of as many points as it has fields.
type memory struct {
	sync.Mutex
	names map[point]string
}

var answers = memory{names: map[point]string{}}

// mostAnswers bounds the memory, to about a megabyte. Own default.
const mostAnswers = 10_000

func (m *memory) get(p point) (string, bool) {
	m.Lock()
	defer m.Unlock()
	name, ok := m.names[p]
	return name, ok
}

func (m *memory) put(p point, name string) {
	m.Lock()
	defer m.Unlock()
	if len(m.names) >= mostAnswers {
		clear(m.names)
	}
	m.names[p] = name
}
