package verdict_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// tried is a chard bed over ten days of November nights in 51 members.
func tried(b *testing.B) verdict.Question {
	p := bed.Plant{Crop: cropOf(b, "chard")}
	class := bed.ClassOf(placed(farm.Field{}, time.UTC), farm.Bed{}, microclimate.FieldBias{}, nil).Growing(p.Crop)
	noon := time.Date(2025, 11, 14, 18, 0, 0, 0, time.UTC)
	book := bed.NewBook(&class, []bed.Plant{p}, noon)
	var hours []weather.Hour
	for d := range 10 {
		hours = append(hours, clearNight(noon.Add(time.Duration(24*d)*time.Hour), 6, -2-float64(d%4))...)
	}
	members, _ := verdict.Dress(weather.Forecast{}, hours, noon, verdict.DefaultMembers, "bench")
	courses, err := bed.Try(&book, &class, []bed.Plant{p}, []unit.Kelvins{p.Crop.Spread}, hours, members)
	require.NoError(b, err)
	return verdict.Question{Now: noon, Zone: zoneOf(b, "America/Chicago"), Plant: &p, Start: book.Plants[p.Key()], Purpose: farm.Fresh, CostLoss: 0.2,
		Site: &north, Hours: hours, Courses: courses[0], Limits: bed.Limits{WindChill: -20, CrustCm: 3, SnowCm: 30}}
}

func BenchmarkJudge(b *testing.B) {
	q := tried(b)
	b.ReportAllocs()
	for b.Loop() {
		verdict.Judge(q)
	}
}

func BenchmarkOutlook(b *testing.B) {
	q := tried(b)
	b.ReportAllocs()
	for b.Loop() {
		verdict.Outlook(q)
	}
}

func BenchmarkDress(b *testing.B) {
	q := tried(b)
	b.ReportAllocs()
	for b.Loop() {
		verdict.Dress(weather.Forecast{}, q.Hours, q.Now, verdict.DefaultMembers, "bench")
	}
}
