package plan

import (
	"math"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/season"
	"winterstand/internal/unit"
)

// The rule for the time after the forecast's end, where no past winters are
// known. An ordinary winter's daily mean follows the yearly wave that
// microclimate takes from latitude and elevation; the low of a night lies
// nightBelow under it, give or take nightSpread, and winterSpread more or less
// in midwinter or midsummer; one night in nightsAlike says something that the
// nights around it do not. A bed stands until the first low that is colder than
// its limit. All own defaults; against 88 winters of Milwaukee (NOAA) the days
// come out about a week early, which is the safe side.
const (
	nightBelow   = 5.0 // K
	nightSpread  = 4.5 // K
	winterSpread = 2.0 // K
	nightsAlike  = 3.0
	coldestDay   = 20.0 // of the year in the north, as in microclimate
	daysOfYear   = 365.2425
)

// What keeps a bed from the air, own defaults. Covers keep their night gain
// outright.
const (
	mulchShelter = 1.5  // K of air for each cm of straw over roots and crowns
	crownShelter = 0.6  // of the air's frost that comes through to a crown, with the snow of an ordinary winter and some nights without
	fifthOfLoss  = 1.39 // ln 4: widths above LT50 at which a fifth is lost
)

// limit is the low of the air, °C, that takes a bed in the ordinary course of a
// winter: halfway between what the crop bears after mild cold and at its
// hardest, with its cover and straw.
func limit(b farm.Bed, c crop.Crop, today farm.Day) float64 {
	tissue := float64(c.Sold.Cold+c.Sold.Full)/2 + fifthOfLoss*float64(c.Sold.Width) + float64(c.Margin) + float64(b.ToleranceSet.Else(0))
	gain := float64(microclimate.Cover(b.CoverOn(today)).GainAt(0))
	if c.Organ.AboveGround() {
		return tissue + float64(crop.ListDepression) - gain
	}
	return over(tissue) - gain - mulchShelter*b.MulchOn(today)
}

// over is the low of the air that brings the soil at the top of the roots to a
// temperature, both °C. The points are what the service's own model gives for
// beet, carrot and parsnip in the middle winter of Milwaukee 1938–2026; between
// the first two the water in the soil freezes, which takes most of the cold. At
// 8 °F, -13.3 °C, carrots take damage (common practice, no source).
func over(soil float64) float64 {
	xs, ys := []float64{-4.4, -1.4, -1, 0}, []float64{-16.7, -12.1, -6.7, 0}
	if soil < xs[0] {
		return ys[0] + 1.5*(soil-xs[0])
	}
	return straight(xs, ys, soil)
}

// crownLimit is the same for the part that regrows.
func crownLimit(b farm.Bed, h crop.Hardening, today farm.Day) float64 {
	tissue := float64(h.Full) + fifthOfLoss*float64(h.Width)
	return tissue/crownShelter - float64(microclimate.Cover(b.CoverOn(today)).GainAt(0)) - mulchShelter*b.MulchOn(today)
}

// normal is the chance to stand until a day, from a day on which it stands.
func normal(site microclimate.Site, limitC float64, from farm.Day) func(farm.Day) float64 {
	at, p := from, 1.0
	return func(day farm.Day) float64 {
		for ; at < day; at = at.Add(1) {
			mean, wave := ordinary(site, at)
			p *= math.Pow(1-below(limitC, mean-nightBelow, nightSpread+winterSpread*wave), 1/nightsAlike)
		}
		return p
	}
}

// below is the probability that a normal variable is below a limit.
func below(limit, mean, sigma float64) float64 {
	return 0.5 * math.Erfc((mean-limit)/(sigma*math.Sqrt2))
}

// ordinary is the daily mean of the air on a day of an ordinary year, °C, and
// where the year stands: 1 in midwinter, -1 in midsummer.
func ordinary(site microclimate.Site, d farm.Day) (mean, wave float64) {
	day := float64(d.Noon(time.UTC).YearDay())
	if site.Latitude < 0 {
		day += daysOfYear / 2
	}
	wave = math.Cos(2 * math.Pi * (day - coldestDay) / daysOfYear)
	return float64(site.MeanAir()) - float64(site.AirAmplitude())*wave, wave
}

// remembered is the chance to stand until a day, from a day on which it stands,
// by the share of past winters that had ended the crop. Between the quantiles
// it goes straight; the tenths at both ends are as long as half the span beside
// them.
func remembered(r season.Row, from farm.Day) func(farm.Day) float64 {
	now := math.Max(leastShare, 1-ended(r, from))
	return func(day farm.Day) float64 { return math.Min(1, math.Max(0, 1-ended(r, day))/now) }
}

// leastShare: a bed that has outlasted every remembered winter is given the
// chances of the last of fifty. Own default.
const leastShare = 0.02

// ended is the share of past winters that had ended a crop by a day.
func ended(r season.Row, day farm.Day) float64 {
	var xs, ys []float64
	for _, q := range r.OutBy {
		if d, ok := q.Days.Get(); ok {
			xs, ys = append(xs, float64(d)), append(ys, q.Share)
		}
	}
	if len(xs) == 0 {
		return 0
	}
	if len(xs) > 1 {
		xs, ys = append([]float64{xs[0] - (xs[1]-xs[0])/2 - 1}, xs...), append([]float64{0}, ys...)
	} else {
		xs, ys = append([]float64{xs[0] - 14}, xs...), append([]float64{0}, ys...)
	}
	if n := len(xs); ys[n-1] == season.Shares[len(season.Shares)-1] {
		xs, ys = append(xs, xs[n-1]+(xs[n-1]-xs[n-2])/2+1), append(ys, 1)
	} else {
		ys = append(ys, 1-float64(r.Stood)/math.Max(1, float64(r.Winters)))
		xs = append(xs, float64(season.DayNumber(season.End(2000))))
	}
	return straight(xs, ys, float64(season.DayNumber(day)))
}

// straight goes straight from point to point and is level beyond them.
func straight(xs, ys []float64, x float64) float64 {
	for i := range xs {
		if x > xs[i] {
			continue
		}
		if i == 0 || xs[i] == xs[i-1] {
			return ys[i]
		}
		return ys[i-1] + (ys[i]-ys[i-1])*(x-xs[i-1])/(xs[i]-xs[i-1])
	}
	return ys[len(ys)-1]
}

// Spring, own defaults. A crown's first cut is on 1 April at 40 degrees and four
// days later for each degree towards the pole (bioclimatic rule of Hopkins 1918,
// from memory); it is cut until it bolts, about six weeks. What stood the winter
// is used up, or bolts, four weeks after the first cut of its place. A crown
// gives half of what stood in autumn.
const (
	daysPerDegree = 4.0
	cutForDays    = 42
	standsForDays = 28
	regrownShare  = 0.5
)

// spring is the first cut of the next spring whose end lies ahead.
func spring(latitude float64, today farm.Day, endsAfter int) farm.Day {
	for year := today.Start(time.UTC).Year(); ; year++ {
		month := time.April
		if latitude < 0 {
			month = time.October
		}
		first := farm.DayOf(time.Date(year, month, 1, 0, 0, 0, 0, time.UTC), time.UTC).Add(int(math.Round(daysPerDegree * (math.Abs(latitude) - 40))))
		if first.Add(endsAfter) > today {
			return first
		}
	}
}

// bolts is the day from which nothing more is taken of what stood the winter.
// What was sown this year, before that day, has its winter still to come.
func (s farmState) bolts(b farm.Bed, now time.Time) farm.Day {
	latitude, today := s.place(b).Latitude, s.today(b, now)
	end := spring(latitude, today, standsForDays).Add(standsForDays)
	if sown, ok := b.Sown(today).Get(); ok && sown > end.Add(-sownThisYear) {
		end = spring(latitude, end.Add(1), standsForDays).Add(standsForDays)
	}
	return end
}

// sownThisYear: what was sown within so many days before the end of spring is
// this year's. Own default.
const sownThisYear = 120

// regrowth is what the crown gives in the coming spring.
func (s farmState) regrowth(b farm.Bed, c crop.Crop, v farm.Verdict, today farm.Day) (none unit.Maybe[Regrowth]) {
	h, ok := c.Regrow.Get()
	kg, known := b.StandingKg.Get()
	if !ok || !known {
		return none
	}
	site := bed.SiteOf(s.place(b))
	from := spring(site.Latitude, today, 0)
	if b.Sown(today).Else("") > from.Add(-sownThisYear) {
		return none
	}
	alive := v.Regrowth.Else(1)
	reach := today
	if n := len(v.Nights); n > 0 {
		reach = v.Nights[n-1].Night.Add(1)
	}
	alive *= normal(site, crownLimit(b, h, today)+float64(s.place(b).LowSpot), reach)(from)
	return unit.Some(Regrowth{From: from, Until: from.Add(cutForDays), Kg: regrownShare * kg, Likelihood: alive})
}
