package picture

import (
	"math"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// sampleBed is a bed with a cold snap in its fourth night: a course of the day, a
// hardening floor, a spread that grows with lead.
func sampleBed() Bed {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	from := time.Date(2026, 11, 10, 16, 0, 0, 0, zone)
	b := Bed{
		Title: "Bed 3, chard · North field", Headline: "Harvest before Thu 12 Nov, 17:00",
		Zone: zone, Units: unit.US, Now: from, Phrases: PhrasesFor(phrase.English(), crop.Leaf),
		Deadline: unit.Some(time.Date(2026, 11, 12, 17, 0, 0, 0, zone)),
	}
	for i := range 240 {
		at := from.Add(time.Duration(i) * time.Hour)
		day := float64(i) / 24
		snap := -9 * math.Exp(-math.Pow(day-3.6, 2)/1.2)
		p50 := 0 + 4.5*math.Sin(2*math.Pi*(float64(at.Hour())-9)/24) + snap - 0.1*day
		spread := (1.6 + 0.25*day) * 1.28
		leaf := p50
		night := at.Hour() < 7 || at.Hour() >= 17
		if night {
			leaf -= 1.2
		}
		c := func(v float64) unit.Maybe[unit.Celsius] { return unit.Some(unit.Celsius(v)) }
		b.Hours = append(b.Hours, Hour{
			At: at, AirP10: c(p50 - spread), AirP50: c(p50), AirP90: c(p50 + spread),
			TissueP10: c(leaf - spread), TissueP50: c(leaf), TissueP90: c(leaf + spread),
			Tolerance: c(-6.2 - 0.15*day), SnowCm: unit.Some(math.Max(0, 4*(day-4))),
			Workable: !night && leaf > 0, Night: night,
		})
	}
	return b
}
