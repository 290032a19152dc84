package commands

import (
	"slices"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

// Choices are the words a member may hold, by noun and member.
var Choices = map[string][]string{
	"farm.units":       {string(unit.US), string(unit.Metric)},
	"farm.language":    phrase.Languages(),
	"shift.day":        {"mon", "tue", "wed", "thu", "fri", "sat", "sun"},
	"field.soil":       words(microclimate.Soils()),
	"bed.purpose":      {string(farm.Fresh), string(farm.Storing), string(farm.Overwinter), string(farm.Household)},
	"cover.kind":       words(microclimate.Covers()),
	"recipient.kinds":  notice.Kinds(),
	"room.kind":        {farm.ColdStore, farm.Fridge, farm.Airy, farm.Freezer, farm.Ripening, farm.Cellar},
	"lot.container":    {"open", "tote", "bag", "crate", "hung"},
	"reading.quantity": {farm.ReadAirMin, farm.ReadAir, farm.ReadSnowDepth, farm.ReadSoil},
	"answer.answer":    {farm.Harvested, farm.Covered, farm.LeaveIt, farm.Seen},
	"token.scope":      {farm.ScopeRead, farm.ScopeWrite},
}

func words[T ~string](keys []T) []string {
	out := make([]string, len(keys))
	for i, k := range keys {
		out[i] = string(k)
	}
	return out
}

// oneOf is the list of a member as a test of a word.
func oneOf(key string) func(string) phrase.Line {
	list, ok := Choices[key]
	if !ok {
		panic("commands: no choices for " + key)
	}
	return func(s string) phrase.Line {
		if slices.Contains(list, s) {
			return fine
		}
		return reason("one_of", "list", list)
	}
}
