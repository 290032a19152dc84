package bed_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/science/bed"
	"winterstand/internal/unit"
)

// One iteration is a class with its plants over ten days in 51 members.
func BenchmarkTry(b *testing.B) {
	names := []string{"chard", "kale-curly", "spinach", "lettuce-head", "parsley", "leek-summer"}
	for _, n := range []int{1, 6} {
		b.Run(fmt.Sprintf("plants=%d", n), func(b *testing.B) {
			plants := plantsOf(b, names[:n]...)
			class := open(plants[0].Crop)
			hours := autumn(80 * 24)
			past, coming := hours[:70*24], hours[70*24:]
			book := bed.NewBook(&class, plants, september)
			require.NoError(b, book.Advance(&class, plants, past))
			members := make([]bed.Member, 51)
			for i := range members {
				members[i] = shifted(len(coming), unit.Kelvins(i-25)/8, float64(i%7-3)/2)
			}
			spread := make([]unit.Kelvins, n)
			b.ReportAllocs()
			for b.Loop() {
				_, err := bed.Try(&book, &class, plants, spread, coming, members)
				require.NoError(b, err)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(members)*len(coming)), "ns/member-hour")
		})
	}
}

// One iteration is an autumn of one plant.
func BenchmarkAdvance(b *testing.B) {
	plants := plantsOf(b, "chard")
	class := open(plants[0].Crop)
	hours := autumn(70 * 24)
	b.ReportAllocs()
	for b.Loop() {
		book := bed.NewBook(&class, plants, september)
		require.NoError(b, book.Advance(&class, plants, hours))
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(hours)), "ns/hour")
}
