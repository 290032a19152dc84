package verdict_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/bed"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/science/verdict"
	"winterstand/internal/unit"
)

// anyBed draws courses that freeze, thaw, snow under and are lost at any hour.
func anyBed(t *rapid.T) *asked {
	name := rapid.SampledFrom([]string{"chard", "kale-curly", "spinach", "carrot", "basil"}).Draw(t, "crop")
	now := local(t, 14, rapid.IntRange(0, 23).Draw(t, "now"), rapid.IntRange(0, 59).Draw(t, "minute"))
	b := bedAt(t, name, now, rapid.IntRange(24, 150).Draw(t, "hours"), rapid.IntRange(1, 12).Draw(t, "members"))
	b.Purpose = rapid.SampledFrom([]farm.Purpose{farm.Fresh, farm.Storing, farm.Overwinter, farm.Household}).Draw(t, "purpose")
	b.CostLoss = rapid.Float64Range(0.02, 0.95).Draw(t, "C/L")
	hour := rapid.IntRange(0, len(b.Hours))
	for m := range b.Courses {
		from, to := hour.Draw(t, "frozen from"), hour.Draw(t, "frozen to")
		lost, shut, under := hour.Draw(t, "lost"), hour.Draw(t, "shut"), hour.Draw(t, "under snow")
		b.eachOf(m, b.Hours[0].At, never, func(c *bed.Course, h int) {
			if h >= from && h < to {
				c.Sold[h], c.Air[h] = -3, -2
			}
			if h >= lost {
				c.Loss[h], c.Life[h], c.CrownLife[h] = 0.9, 0.2, 0.1
			}
			if h >= shut {
				c.Frost[h] = 6
			}
			if h >= under {
				c.Snow[h] = 80
			}
		})
	}
	return b
}

// plain is the rule in its plainest form, hour by hour.
func plain(b *asked) (state farm.State, by time.Time) {
	n := float64(len(b.Courses))
	workable := make([]bool, len(b.Hours))
	for h := range b.Hours {
		can := 0
		for m := range b.Courses {
			if bed.Workable(b.Plant, b.Site, b.Hours, &b.Courses[m], b.Limits)[h] {
				can++
			}
		}
		workable[h] = float64(can) >= n/2
	}
	danger := -1
	for h := range b.Hours {
		lost := 0.0
		for m := range b.Courses {
			if b.Courses[m].Loss[h] > bed.LossShare {
				lost++
			}
		}
		if lost/n >= b.CostLoss {
			danger = h
			break
		}
	}
	if danger < 0 && !b.Plant.Crop.Organ.AboveGround() && b.Purpose != farm.Overwinter {
		danger = closes(b)
	}
	if danger < 0 {
		return farm.Holds, by
	}
	for h := danger - 1; h >= 0; h-- {
		if workable[h] {
			return farm.HarvestBefore, b.Hours[h].At.Add(time.Hour)
		}
	}
	return farm.TooLate, by
}

// closes is the first hour from which enough members stay shut, three days before the end.
func closes(b *asked) int {
	for h := range b.Hours {
		shut := 0.0
		for m := range b.Courses {
			stays := true
			for k := h; k < len(b.Hours); k++ {
				stays = stays && b.Courses[m].Frost[k] >= bed.UsualCrustCm
			}
			if stays {
				shut++
			}
		}
		if shut/float64(len(b.Courses)) >= max(0.5, b.CostLoss) {
			if len(b.Hours)-h >= 72 {
				return h
			}
			return -1
		}
	}
	return -1
}

func TestPropertyTheJudgeKeepsThePlainRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := anyBed(t)
		state, by := plain(b)
		v := b.judge()
		require.Equal(t, state, v.State)
		require.Equal(t, by.UTC(), when(v.HarvestBefore).UTC())
		require.Equal(t, v.State == farm.HarvestBefore, v.LastWindow.Known())
		if danger, ok := v.Danger.Get(); ok {
			require.False(t, when(v.HarvestBefore).After(danger))
			require.Equal(t, farm.NightOf(danger, b.Zone), v.Night)
			require.True(t, v.AirLow.Known() && v.TissueLow.Known() && v.ToleranceThen.Known() && v.TissueLowP10.Known(), "a danger has its figures")
		}
		for i, w := range v.Windows {
			require.True(t, w.Start.Before(w.End))
			require.True(t, i == 0 || v.Windows[i-1].End.Before(w.Start))
		}
		last := 0.0
		for i, n := range v.Nights {
			require.GreaterOrEqual(t, n.Likelihood, last, "a likelihood is cumulative")
			require.True(t, i == 0 || v.Nights[i-1].Night.Add(1) == n.Night, "night follows night")
			last = n.Likelihood
		}
	})
}

// later tells whether the deadline of a verdict leaves more time than another's.
func later(a, b farm.Verdict) bool { return rank(a).After(rank(b)) }

// rank orders verdicts: too late, then by deadline, then a bed that holds.
func rank(v farm.Verdict) time.Time {
	switch v.State {
	case farm.HarvestBefore:
		return when(v.HarvestBefore)
	case farm.Holds:
		return never
	}
	return time.Time{}
}

// A member that is lost sooner, or finds fewer hours to work in, never moves the
// deadline away or the likelihood down.
func TestPropertyWorseCoursesAreNeverSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := anyBed(t)
		if !b.Plant.Crop.Organ.AboveGround() {
			b.Purpose = farm.Overwinter // a bed that is lost sooner cannot close later; the two causes are two deadlines
		}
		before := b.judge()
		for m := range b.Courses {
			from := rapid.IntRange(0, len(b.Hours)).Draw(t, "lost sooner")
			frozen := rapid.IntRange(0, len(b.Hours)).Draw(t, "and frozen")
			b.eachOf(m, b.Hours[from%len(b.Hours)].At, never, func(c *bed.Course, h int) { c.Loss[h], c.Life[h], c.CrownLife[h] = 1, 0, 0 })
			b.eachOf(m, b.Hours[frozen%len(b.Hours)].At, never, func(c *bed.Course, h int) { c.Sold[h] = min(c.Sold[h], -1) })
		}
		after := b.judge()
		require.False(t, later(after, before), "%v %v, then %v %v", before.State, rank(before), after.State, rank(after))
		for i := range before.Nights {
			require.GreaterOrEqual(t, after.Nights[i].Likelihood, before.Nights[i].Likelihood)
		}
	})
}

// The whole chain through one night from one state: the same night colder by so
// many kelvins is lost by no smaller share of members, and by no later deadline.
func TestPropertyAColderNightIsNeverSaferThroughTheChain(t *testing.T) {
	cat, err := crop.Default()
	require.NoError(t, err)
	noon := time.Date(2025, 11, 14, 18, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		p := bed.Plant{Crop: rapid.SampledFrom(cat.All()).Draw(t, "crop")}
		plants, spread := []bed.Plant{p}, []unit.Kelvins{p.Crop.Spread}
		class := bed.ClassOf(placed(farm.Field{}, time.UTC), farm.Bed{}, microclimate.FieldBias{}, nil).Growing(p.Crop)
		book := bed.NewBook(&class, plants, noon)
		s := book.Plants[p.Key()]
		hard := unit.Celsius(rapid.Float64Range(0, 1).Draw(t, "hardened"))
		s.Sold.LT50 = p.Crop.Sold.Unhardened + hard*(p.Crop.Sold.Full-p.Crop.Sold.Unhardened)
		book.Plants[p.Key()] = s
		warm := rapid.Float64Range(0, 9).Draw(t, "afternoon")
		hours := clearNight(noon, warm, warm-rapid.Float64Range(2, 20).Draw(t, "falls by"))
		draws := verdict.Draws(15, rapid.String().Draw(t, "seed"))
		judge := func(k unit.Kelvins) farm.Verdict {
			members := make([]bed.Member, len(draws))
			for m, d := range draws {
				members[m] = bed.Member{Error: make([]unit.Kelvins, len(hours)), Crop: d.Crop}
				for h := range hours {
					members[m].Error[h] = unit.Kelvins(2.1*d.Night[0]) - k
				}
			}
			courses, err := bed.Try(&book, &class, plants, spread, hours, members)
			require.NoError(t, err)
			return verdict.Judge(verdict.Question{Now: noon, Zone: zoneOf(t, "America/Chicago"), Plant: &p, Start: s, Purpose: farm.Fresh,
				CostLoss: 0.2, Site: &north, Hours: hours, Courses: courses[0], Limits: bed.Limits{WindChill: -20, CrustCm: 3, SnowCm: 30}})
		}
		mild, cold := judge(0), judge(unit.Kelvins(rapid.Float64Range(0, 10).Draw(t, "colder by")))
		require.GreaterOrEqual(t, cold.Likelihood.Else(-1), mild.Likelihood.Else(2))
		require.False(t, later(cold, mild), "%v %v, colder: %v %v", mild.State, rank(mild), cold.State, rank(cold))
	})
}
