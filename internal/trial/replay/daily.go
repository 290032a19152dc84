package replay

import "slices"

// Daily makes one row of a day's hours: the hour with the lowest air, and in it
// the day's lowest leaf and soil temperatures, the highest kill of the running
// frost, survival and quality as the day ends, and whether any hour was workable.
// Percentiles likewise: the lowest temperatures, survival and quality at the end.
func Daily(hours []Row) Row {
	low, last := hours[0], hours[len(hours)-1]
	for _, h := range hours[1:] {
		if h.Air < low.Air {
			low = h
		}
	}
	low.Soil = slices.Clone(low.Soil)
	for _, h := range hours {
		low.Leaf, low.Kill = min(low.Leaf, h.Leaf), max(low.Kill, h.Kill)
		low.Workable = low.Workable || h.Workable
		for i, s := range h.Soil {
			low.Soil[i] = min(low.Soil[i], s)
		}
	}
	low.Survival, low.Quality = last.Survival, last.Quality
	if low.Bands != nil {
		low.Bands = dailyBands(hours)
	}
	return low
}

func dailyBands(hours []Row) *Bands {
	last := hours[len(hours)-1].Bands
	out := *last
	out.Soil = slices.Clone(last.Soil)
	for _, h := range hours {
		out.Leaf = lower(out.Leaf, h.Bands.Leaf)
		for i, b := range h.Bands.Soil {
			out.Soil[i] = lower(out.Soil[i], b)
		}
	}
	return &out
}

func lower(a, b Band) Band { return Band{min(a.P10, b.P10), min(a.P50, b.P50), min(a.P90, b.P90)} }
