package keeping

import (
	"math"
	"slices"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Stored is one lot as it lies in a room.
type Stored struct {
	LotID       int64
	Kg          float64
	Keeper      Keeper
	State       State
	FrostKilled bool // harvested after frost had killed the plant
	Damaged     bool // bruised, cut, or hurt by frost in the field
}

// Store is a room with its climate and capacity.
type Store struct {
	Climate
	CapacityKg unit.Maybe[float64]
}

// Own defaults of the advice.
const (
	nearlyFull    = 0.9 // of the capacity
	tooWarmFactor = 0.5 // of the life at the best temperature
	humidityGap   = 0.1 // outside the best range before it is worth saying
)

// frozenStore is the temperature of a home freezer, 0 °F (NCHFP, from memory).
var frozenStore = unit.FromFahrenheit(0)

// Advise says what does not fit between a room and its lots, warnings first.
func Advise(room Store, lots []Stored) []Note {
	out := append(fill(room, lots), freezerTooWarm(room, lots)...)
	for _, lot := range lots {
		out = append(out, adviseLot(room, lot)...)
	}
	out = append(out, humidityClash(room, lots)...)
	out = append(out, ethyleneClash(room, lots)...)
	out = merge(out)
	slices.SortStableFunc(out, func(a, b Note) int { return order(a) - order(b) })
	return out
}

func order(n Note) int {
	if n.Warning {
		return 0
	}
	return 1
}

// merge joins the same advice on the same crop; it keeps every lot's number.
func merge(notes []Note) []Note {
	var out []Note
	for _, n := range notes {
		i := slices.IndexFunc(out, func(o Note) bool { return o.Code == n.Code && o.Crop == n.Crop })
		if i < 0 {
			out = append(out, n)
			continue
		}
		out[i].Lots = distinct(append(out[i].Lots, n.Lots...))
		out[i].Warning = out[i].Warning || n.Warning
	}
	return out
}

func distinct(ids []int64) []int64 {
	slices.Sort(ids)
	return slices.Compact(ids)
}

func fill(room Store, lots []Stored) []Note {
	capacity, ok := room.CapacityKg.Get()
	if !ok || !(capacity > 0) {
		return nil
	}
	kg := 0.0
	for _, lot := range lots {
		kg += lot.Kg
	}
	share := kg / capacity
	switch {
	case share > 1:
		return []Note{{Code: RoomOverfull, Warning: true, Share: unit.Some(share)}}
	case share >= nearlyFull:
		return []Note{{Code: RoomFull, Warning: true, Share: unit.Some(share)}}
	}
	return nil
}

func freezerTooWarm(room Store, lots []Stored) []Note {
	// Half a degree is within what a thermometer of a freezer can tell.
	if room.Kind != farm.Freezer || len(lots) == 0 || room.Temperature <= frozenStore.Plus(0.5) {
		return nil
	}
	return []Note{{Code: FreezerWarm, Warning: true, Temp: unit.Some(room.Temperature), Limit: unit.Some(frozenStore)}}
}

func adviseLot(room Store, lot Stored) []Note {
	k, s := lot.Keeper, lot.State
	var out []Note
	add := func(on bool, n Note) {
		if on {
			n.Crop, n.Lots = k.Name, []int64{lot.LotID}
			out = append(out, n)
		}
	}
	add(s.FrozeThawed, Note{Code: UsePromptly, Warning: true})
	add(lot.Damaged && room.Kind != farm.Freezer, Note{Code: Damaged, Warning: true})
	add(k.Ethylene == Gives && k.Ripening != nil, Note{Code: DoNotCan, Warning: lot.FrostKilled})
	if room.Kind == farm.Freezer {
		return out
	}
	add(room.Kind == farm.Ripening && k.Ripening != nil, Note{Code: SortRipening})
	add(!k.IsCured(s) && (room.Kind != farm.Airy || k.In.Closed()), Note{Code: NotCured, Warning: true})
	add(k.Cure != nil && k.In.Closed(), Note{Code: NeedsAir, Warning: true})
	return append(out, slices.Concat(adviseTemperature(room, lot), adviseHumidity(room, lot))...)
}

func adviseTemperature(room Store, lot Stored) []Note {
	k, t := lot.Keeper, room.Temperature
	if cold, ok := k.tooCold(room.Climate); ok {
		cold.Lots = []int64{lot.LotID}
		return []Note{cold}
	}
	ripens := room.Kind == farm.Ripening && k.Ripening != nil
	cures := room.Kind == farm.Airy && !k.IsCured(lot.State)
	best := math.Max(k.Best.LowC, math.Min(k.Best.HighC, float64(t)))
	if !ripens && !cures && k.freshLife(float64(t)).days < tooWarmFactor*k.freshLife(best).days {
		return []Note{{Code: TooWarm, Crop: k.Name, Lots: []int64{lot.LotID},
			Temp: unit.Some(t), Limit: unit.Some(unit.Celsius(best))}}
	}
	return nil
}

// adviseHumidity speaks only of a humidity that was given.
func adviseHumidity(room Store, lot Stored) []Note {
	h, ok := room.Humidity.Get()
	if !ok {
		return nil
	}
	k := lot.Keeper
	here := Note{Crop: k.Name, Lots: []int64{lot.LotID}, Share: unit.Some(h)}
	switch {
	case k.Air == Moist && !k.In.Closed() && h < k.Best.HumidityLow-humidityGap:
		here.Code = TooDry
	case k.Air == Dry && h > k.Best.HumidityHigh+humidityGap:
		here.Code = TooDamp
	default:
		return nil
	}
	return []Note{here}
}

// humidityClash: bulbs that want dry air beside roots and leaves that want damp.
func humidityClash(room Store, lots []Stored) []Note {
	return clash(room, lots, Note{Code: HumidityClash},
		func(k Keeper) bool { return k.Air == Dry }, func(k Keeper) bool { return k.Air == Moist })
}

func ethyleneClash(room Store, lots []Stored) []Note {
	return clash(room, lots, Note{Code: EthyleneClash, Warning: true},
		func(k Keeper) bool { return k.Ethylene == Gives }, func(k Keeper) bool { return k.Ethylene == Sensitive })
}

// clash makes one note for each crop on one side that shares the room with
// crops of the other. In a freezer neither air nor gas matters.
func clash(room Store, lots []Stored, n Note, one, other func(Keeper) bool) []Note {
	if room.Kind == farm.Freezer {
		return nil
	}
	var against []string
	var at []int64
	for _, lot := range lots {
		if other(lot.Keeper) {
			at = append(at, lot.LotID)
			if !slices.Contains(against, lot.Keeper.Name) {
				against = append(against, lot.Keeper.Name)
			}
		}
	}
	var out []Note
	for _, lot := range lots {
		if len(against) > 0 && one(lot.Keeper) {
			m := n
			m.Crop, m.Other, m.Lots = lot.Keeper.Name, against, append([]int64{lot.LotID}, at...)
			out = append(out, m)
		}
	}
	return out
}

// RoomHeat is the warmth that the lots of a room give off, in watts, and the
// crops whose respiration is not known and are not in it.
func RoomHeat(room Store, lots []Stored) (watts float64, unknown []string) {
	for _, lot := range lots {
		mw, ok := lot.Keeper.HeatMilliwatts(float64(room.Temperature))
		if !ok {
			unknown = append(unknown, lot.Keeper.Name)
			continue
		}
		watts += lot.Kg * mw / 1000
	}
	return watts, unknown
}
