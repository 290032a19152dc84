package supply

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// Normal on each side of the median with that side's own width, by hand: z(0.9) is
// 1.28155 and z(0.75) 0.67449, so of a lot with 10 days before its median and 20
// after it three in four are gone 20·0.67449/1.28155 = 10.526 days after it.
func TestALotSpoilsByItsOwnQuantiles(t *testing.T) {
	median := monday(t)
	day := func(n float64) time.Time { return median.Add(time.Duration(n * 24 * float64(time.Hour))) }
	l := Lot{LotID: 1, P10: day(-10), P50: median, P90: day(20)}
	for rank, at := range map[float64]float64{0.1: -10, 0.25: -5.263, 0.5: 0, 0.75: 10.526, 0.9: 20} {
		assert.InDelta(t, at, l.quantile(rank).Sub(median).Hours()/24, 0.01, rank)
		assert.InDelta(t, rank, l.share(day(at)), 0.001, at)
	}
	sure := Lot{LotID: 2, P10: median, P50: median, P90: median}
	for _, n := range []float64{-1, 0, 1} {
		assert.Zero(t, sure.share(day(n)), "a lot that ends on one day has lost nothing before it")
	}
	assert.Equal(t, median, sure.quantile(0.99))
}

// A lot in the books is good today: at its median the middle of what may still
// happen is the rank of three quarters, 10.5 days on, in the second week from now.
func TestTheFateOfALotIsDrawnFromWhatMayStillHappen(t *testing.T) {
	now := monday(t)
	weeks := make([]Week, 20)
	for i := range weeks {
		weeks[i].Start = "2026-11-02"
		weeks[i].Start = weeks[i].Start.Add(7 * i)
	}
	l := Lot{LotID: 1, P10: now.AddDate(0, 0, -10), P50: now, P90: now.AddDate(0, 0, 20)}
	ends := l.ends(now, chicago(t), weeks)
	assert.Equal(t, 2, ends(0.5), "on Friday of the second week: from the third on it is gone")
	assert.Equal(t, 1, ends(0), "never before today's week is over")
	assert.Equal(t, 3, ends(0.8), "rank 0.9: twenty days on")
	past := Lot{LotID: 2, P10: now.AddDate(0, 0, -30), P50: now.AddDate(0, 0, -20), P90: now.AddDate(0, 0, -10)}
	assert.Equal(t, 1, past.ends(now, chicago(t), weeks)(0.01), "long due, but still there")
}

// The numbers of two beds go together by the share that kinship says, as those of
// one factor model do, and each bed's own are spread evenly.
func TestBedsGoTogetherByTheirKinship(t *testing.T) {
	in := input(t)
	in.Standing = []Standing{sureBed(1, "carrot", 1), sureBed(2, "beet", 1)}
	fates := in.fates()
	sum, cross, squares := 0.0, 0.0, 0.0
	for n := range fates[0] {
		a, b := normal(fates[0][n]), normal(fates[1][n])
		sum, cross, squares = sum+fates[0][n], cross+a*b, squares+a*a
	}
	assert.InDelta(t, 0.5, sum/float64(len(fates[0])), 1e-9)
	assert.InDelta(t, kinship, cross/squares, 4*(1-kinship*kinship)/math.Sqrt(float64(len(fates[0]))), "within four standard errors")
}
