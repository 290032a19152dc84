package hardiness

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// frostol is an independent model of the same thing in winter wheat, written
// from Bergjord, Bonesmo & Skjelvåg 2008, European Journal of Agronomy
// 28:321–330: daily steps, hardening and loss only (the terms for respiration
// under snow and for low-temperature stress are left out). It is a reference
// for structure; wheat needs weeks where spinach needs days.
type frostol struct{ full float64 }

const (
	hparam = 0.0093 // hardening, 1/(°C·day)
	dparam = 2.7e-5 // loss, 1/(°C³·day)
)

func (f frostol) unhardened() float64 { return -0.6 + 0.142*f.full }

func (f frostol) hardening(lt50, crown float64) float64 {
	if crown >= 10 {
		return 0
	}
	return hparam * (10 - math.Max(crown, 0)) * (lt50 - f.full)
}

// loss is that of a plant whose vernalisation is not fulfilled: from 10 °C up.
func (f frostol) loss(lt50, crown float64) float64 {
	if crown < 10 {
		return 0
	}
	return dparam * (f.unhardened() - lt50) * math.Pow(crown+4, 3)
}

func (f frostol) after(days int, lt50, crown float64) float64 {
	for range days {
		lt50 += f.loss(lt50, crown) - f.hardening(lt50, crown)
	}
	return lt50
}

func TestFROSTOLReference(t *testing.T) {
	f := frostol{full: -24}
	assert.InDelta(t, -4.008, f.unhardened(), 1e-9)
	for _, c := range []struct {
		what                string
		days                int
		from, crown, expect float64
	}{
		{"hardening", 1, -4.008, 3, -5.31}, {"hardening", 3, -4.008, 3, -7.66}, {"hardening", 7, -4.008, 3, -11.52},
		{"hardening", 14, -4.008, 3, -16.21}, {"hardening", 21, -4.008, 3, -19.14}, {"hardening", 28, -4.008, 3, -20.96},
		{"hardening", 42, -4.008, 3, -22.82},
		{"loss", 1, -24, 15, -20.30}, {"loss", 2, -24, 15, -17.28}, {"loss", 3, -24, 15, -14.82},
		{"loss", 7, -24, 15, -8.77}, {"loss", 14, -24, 15, -5.14},
	} {
		assert.InDelta(t, c.expect, f.after(c.days, c.from, c.crown), 0.01, "%s, day %d", c.what, c.days)
	}
	// Two rows of the published rates.
	assert.InDelta(t, 0.5583, f.hardening(-11.17, 5.32), 5e-4)
	assert.InDelta(t, 0.5776, f.hardening(-17.21, 0.86), 5e-4)
}

// Ours and FROSTOL agree in structure: which way LT50 goes, that each day of a
// constant temperature brings less than the day before, that colder (above
// freezing) hardens faster, and that a warm week undoes more than a cold week
// has built.
func TestStructureAgreesWithFROSTOL(t *testing.T) {
	wheat := frostol{full: -24}
	ours := bare(wheat.unhardened(), -12, -24, 0.1, 1, 1)
	our := func(days int, from, at float64) float64 {
		s := Start(ours.Hardening, unitC(from))
		return float64(advance(t, ours, s, hold(24*days, at)).LT50)
	}
	for name, after := range map[string]func(int, float64, float64) float64{"FROSTOL": wheat.after, "ours": our} {
		base := wheat.unhardened()
		assert.Less(t, after(5, base, 3), base, "%s: cold hardens", name)
		assert.Greater(t, after(5, -15, 15), -15.0, "%s: warmth undoes it", name)
		assert.Less(t, after(5, base, 2), after(5, base, 6), "%s: colder hardens more", name)
		first, later := base-after(1, base, 3), after(9, base, 3)-after(10, base, 3)
		assert.Greater(t, first, later, "%s: less every day", name)
		cold := after(7, base, 3)
		assert.Greater(t, after(7, cold, 15)-cold, 0.5*(base-cold), "%s: a warm week undoes most of a cold one", name)
		assert.GreaterOrEqual(t, after(400, base, 3), -24.0-1e-9, "%s: never beyond its limit", name)
	}
}
