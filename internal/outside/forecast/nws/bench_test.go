package nws

import (
	"testing"

	"winterstand/internal/weather"
)

// One real grid of 160 kB, and the hours made of it.
func BenchmarkGridpoint(b *testing.B) {
	body := corpus(b, "nws/gridpoint_raw_MPX_108_72_20240111.json")
	for b.Loop() {
		if _, err := ParseGridpoint(body); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHours(b *testing.B) {
	g, err := ParseGridpoint(corpus(b, "nws/gridpoint_raw_MPX_108_72_20240111.json"))
	if err != nil {
		b.Fatal(err)
	}
	air := g.Forecast.Layers[weather.Air]
	for b.Loop() {
		if len(weather.Hours(g.Forecast, air[0].Start, air[len(air)-1].End)) != len(air) {
			b.Fatal("hours are missing")
		}
	}
}
