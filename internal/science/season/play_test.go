package season

import (
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

var place = Bed{Site: microclimate.Site{Latitude: 46, Longitude: -92, ElevationM: 300, Soil: microclimate.Loam}, Zone: time.FixedZone("CST", -6*3600)}

func crops(t *testing.T, names ...string) []crop.Crop {
	t.Helper()
	catalogue, err := crop.Default()
	require.NoError(t, err)
	var out []crop.Crop
	for _, n := range names {
		c, err := catalogue.Find(n)
		require.NoError(t, err)
		out = append(out, c)
	}
	return out
}

// winterOf is a winter whose air at local hour h of a day is given.
func winterOf(year int, air func(day farm.Day, hour int) float64) Winter {
	w := Winter{Year: year}
	end := End(year).Start(place.Zone)
	for at := First(year).Start(place.Zone); at.Before(end); at = at.Add(time.Hour) {
		v := unit.Celsius(air(farm.DayOf(at, place.Zone), at.In(place.Zone).Hour()))
		w.Hours = append(w.Hours, weather.Hour{At: at.UTC(), Air: unit.Some(v), Precip: unit.Some(0.0)})
	}
	return w
}

func mild(farm.Day, int) float64 { return 12 }

// coldNight is mild but for one night, 20:00 to 08:00, that begins on a day.
func coldNight(night farm.Day, low float64) func(farm.Day, int) float64 {
	return func(d farm.Day, h int) float64 {
		if d == night && h >= 20 || d == night.Add(1) && h < 8 {
			return low
		}
		return 12
	}
}

func only(t *testing.T, o []Outcome) Outcome {
	t.Helper()
	require.Len(t, o, 1)
	return o[0]
}

func TestAMildWinterIsStoodThrough(t *testing.T) {
	got, err := place.Play(crops(t, "chard"), winterOf(2023, mild))
	require.NoError(t, err)
	o := only(t, got)
	assert.Equal(t, Stood, o.State)
	assert.False(t, o.By.Known())
	assert.False(t, o.FirstFrost.Known())
	assert.True(t, o.Complete())
}

// Straight from mild weather to 8 °F (-13.3 °C) chard is lost: common practice,
// no source. It had to be out on the day whose evening began that night.
func TestOutByTheDayBeforeTheNight(t *testing.T) {
	got, err := place.Play(crops(t, "chard", "tomato"), winterOf(2023, coldNight("2023-11-14", -13.3)))
	require.NoError(t, err)
	for _, o := range got {
		assert.Equal(t, Out, o.State, o.Crop)
		assert.Equal(t, unit.Some(farm.Day("2023-11-14")), o.FirstFrost)
		assert.Equal(t, unit.Some(unit.Celsius(-13.3)), o.Low)
		assert.Equal(t, unit.Some(farm.Day("2023-11-14")), o.By, o.Crop)
	}
}

func TestAHoleLeavesUndecidedWhatStillStood(t *testing.T) {
	w := winterOf(2023, coldNight("2023-11-14", -1))
	w.MissingDays = 1
	for i := range w.Hours {
		if farm.DayOf(w.Hours[i].At, place.Zone) == "2024-01-10" {
			w.Hours[i].Air = unit.None[unit.Celsius]()
		}
	}
	got, err := place.Play(crops(t, "tomato", "spinach"), w)
	require.NoError(t, err)
	assert.Equal(t, Out, got[0].State, "the tomatoes were gone before the hole")
	assert.Equal(t, Incomplete, got[1].State)
	assert.False(t, got[0].Complete())
	assert.False(t, got[1].Complete())
}

func TestAWinterThatBeginsLateOrEndsEarlyIsIncomplete(t *testing.T) {
	whole := winterOf(2023, mild)
	for name, hours := range map[string][]weather.Hour{
		"none": nil, "begins on 3 August": whole.Hours[48:], "ends on 29 May": whole.Hours[:len(whole.Hours)-48],
	} {
		got, err := place.Play(crops(t, "chard"), Winter{Year: 2023, Hours: hours})
		require.NoError(t, err, name)
		assert.Equal(t, Incomplete, only(t, got).State, name)
		assert.False(t, only(t, got).Complete(), name)
	}
}

// A slide from 12 °C in August to -20 °C in January and back.
func slide(d farm.Day, hour int) float64 {
	n := float64(DayNumber(d))
	mean := 15 - 30*n/170
	if n > 170 {
		mean = -15 + 30*(n-170)/135
	}
	return mean + map[bool]float64{true: 4, false: -4}[hour >= 8 && hour < 20]
}

func TestMoreOverTheBedIsNeverEarlier(t *testing.T) {
	by := func(d microclimate.Dressing, name string) int {
		b := place
		b.Dressing = d
		got, err := b.Play(crops(t, name), winterOf(2023, slide))
		require.NoError(t, err)
		o := only(t, got)
		if o.State == Stood {
			return never
		}
		return DayNumber(o.By.Else(""))
	}
	bare := by(microclimate.Dressing{}, "chard")
	covered := by(microclimate.Dressing{Cover: microclimate.LowTunnelFabric}, "chard")
	assert.Greater(t, covered, bare)
	assert.Greater(t, by(microclimate.Dressing{MulchCm: 20}, "carrot"), by(microclimate.Dressing{}, "carrot"))
}

func TestPlayNamesTheWinterItCannotTake(t *testing.T) {
	w := winterOf(2023, mild)
	w.Hours[100].Air = unit.Some(unit.Celsius(200))
	_, err := place.Play(crops(t, "chard"), w)
	assert.ErrorContains(t, err, "winter 2023/24")
}

func TestRunKeepsTheOrderWithAnyNumberOfWorkers(t *testing.T) {
	years := []int{2001, 2002, 2003, 2004, 2005}
	load := func(year int) (Winter, error) { return Winter{Year: year}, nil }
	play := func(w Winter) ([]Outcome, error) {
		return []Outcome{{Winter: w.Year}, {Winter: w.Year, Crop: "b"}}, nil
	}
	for _, workers := range []int{0, 1, 3} {
		var seen atomic.Int32
		got, err := Run(years, workers, load, play, func(int) { seen.Add(1) })
		require.NoError(t, err)
		require.Len(t, got, 10)
		for i, o := range got {
			assert.Equal(t, years[i/2], o.Winter)
		}
		assert.EqualValues(t, 5, seen.Load())
	}
	_, err := Run(years, 2, func(y int) (Winter, error) { return Winter{}, fmt.Errorf("load %d: %w", y, errors.ErrUnsupported) }, play, nil)
	assert.ErrorIs(t, err, errors.ErrUnsupported)
	_, err = Run(years, 2, load, func(Winter) ([]Outcome, error) { return nil, errors.ErrUnsupported }, nil)
	assert.ErrorIs(t, err, errors.ErrUnsupported)
}
