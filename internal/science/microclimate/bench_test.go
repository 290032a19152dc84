package microclimate

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// One iteration is one member, one hour, one column with a full pack and straw.
func BenchmarkStep(b *testing.B) {
	for _, c := range []struct {
		name string
		snow float64
		on   Dressing
	}{{"bare", 0, Dressing{}}, {"snow", 30, Dressing{}}, {"snow and straw", 30, Dressing{MulchCm: 15}}} {
		b.Run(c.name, func(b *testing.B) {
			site := loamAt45
			start := NewGround(site, winterStart)
			start.Snow.setDepth(c.snow/100, -5)
			g := start
			hours := changeableHours(24 * 10)
			b.ReportAllocs()
			b.ResetTimer()
			for i := range b.N {
				h := hours[i%len(hours)]
				if i%len(hours) == 0 {
					g = start
				}
				if err := g.Step(&site, c.on, h); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N), "ns/member-hour-column")
		})
	}
}

func BenchmarkLeaf(b *testing.B) {
	site := loamAt45
	g := NewGround(site, winterStart)
	h := changeableHours(1)[0]
	b.ReportAllocs()
	for b.Loop() {
		if _, err := g.Leaf(&site, Dressing{}, h, 20); err != nil {
			b.Fatal(err)
		}
	}
}

func TestStepAndLeafDoNotAllocate(t *testing.T) {
	site := loamAt45
	g := NewGround(site, winterStart)
	hours := changeableHours(200)
	i := 0
	n := testing.AllocsPerRun(100, func() {
		require.NoError(t, g.Step(&site, Dressing{MulchCm: 10}, hours[i]))
		_, err := g.Leaf(&site, Dressing{Cover: LowTunnel}, hours[i], 20)
		require.NoError(t, err)
		i++
	})
	require.Zero(t, n)
}
