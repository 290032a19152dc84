package notice

import (
	"slices"

	"winterstand/internal/message/phrase"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

// coldCrew is the air temperature from which the crew is warned; frostbite is
// possible within 30 minutes at a wind chill near -28 °C (wind-chill chart of
// the US and Canadian weather services), which a breeze reaches from here.
const coldCrew = unit.Celsius(-18)

// Cautions that belong under these notices, each once.
func Cautions(s phrase.Speaker, facts []Facts) []string {
	var out []string
	for _, f := range facts {
		for _, key := range cautions(f) {
			if text := s.Say("caution."+key, cautionArgs(s, f)); !slices.Contains(out, text) {
				out = append(out, text)
			}
		}
	}
	return out
}

// cautions are the keys that belong under one notice: those of every bed, those
// of the situation, and those that the crop and the covers declare.
func cautions(f Facts) (keys []string) {
	if f.BedID != 0 {
		keys = append(keys, "any")
	}
	if f.Kind == Inspect || f.Verdict != nil && f.Verdict.AlreadyLost {
		keys = append(keys, "frozen")
	}
	for _, c := range f.Cautions {
		keys = append(keys, string(c))
	}
	if f.Verdict == nil {
		return keys
	}
	if low, ok := f.Verdict.AirLow.Get(); ok && low <= coldCrew {
		keys = append(keys, "crew")
	}
	for _, c := range coverCautions(f) {
		keys = append(keys, string(c))
	}
	return keys
}

// coverCautions are those of the cover on the bed and of every one offered.
func coverCautions(f Facts) []microclimate.Caution {
	out := slices.Clone(microclimate.Cover(f.Verdict.Cover).Shelter().Cautions)
	for _, h := range f.Verdict.Helps {
		out = append(out, microclimate.Cover(h.Cover).Shelter().Cautions...)
	}
	return out
}

func cautionArgs(s phrase.Speaker, f Facts) phrase.Args {
	return phrase.Args{"crop": cropTitle(s, f), "load": s.Say("caution.load_"+string(s.Units), nil)}
}
