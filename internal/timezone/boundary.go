package timezone

import "google.golang.org/protobuf/encoding/protowire"

// Fields of the data's messages (tzf, tzinfo.proto): zones, each with a name and
// polygons, each with an outer ring and holes. A ring is a polyline of east and
// north in turn, each coded as the difference to the one before.
const (
	zonesField    = 2
	polygonsField = 1
	nameField     = 2
	ringField     = 1
	holesField    = 2
)

// find gives the zone that holds a point, the first in the data where the claims
// of two overlap; empty: none.
func find(data []byte, at point) (name string) {
	each(data, zonesField, func(zone []byte) bool {
		if holds(zone, polygonsField, at) {
			each(zone, nameField, func(s []byte) bool { name = string(s); return false })
		}
		return name == ""
	})
	return name
}

// holds tells whether one of a message's polygons holds the point and none of
// that polygon's holes does.
func holds(message []byte, field protowire.Number, at point) (in bool) {
	each(message, field, func(polygon []byte) bool {
		inside := false
		each(polygon, ringField, func(ring []byte) bool {
			inside = encloses(ring, at) != inside
			return true
		})
		in = inside && !holds(polygon, holesField, at)
		return !in
	})
	return in
}

// each calls do with every field of that number which holds bytes, until it
// gives false.
func each(message []byte, field protowire.Number, do func([]byte) bool) {
	for len(message) > 0 {
		number, kind, n := protowire.ConsumeTag(message)
		if n < 0 {
			return
		}
		message = message[n:]
		size := protowire.ConsumeFieldValue(number, kind, message)
		if size < 0 {
			return
		}
		if number == field && kind == protowire.BytesType {
			value, _ := protowire.ConsumeBytes(message)
			if !do(value) {
				return
			}
		}
		message = message[size:]
	}
}

// encloses counts how often a line from the point to the north pole crosses a
// ring: an odd number means that it lies inside (Shimrat 1962, Algorithm 112).
func encloses(ring []byte, at point) (inside bool) {
	var before, here point
	for first := true; len(ring) > 0; first = false {
		var east, north int
		east, ring = difference(ring)
		north, ring = difference(ring)
		before, here = here, point{here.north + north, here.east + east}
		if !first && (before.east > at.east) != (here.east > at.east) && below(at, before, here) {
			inside = !inside
		}
	}
	return inside
}

// below tells whether the point lies south of the line through a and b, whose
// easts differ.
func below(at, a, b point) bool {
	if a.east > b.east {
		a, b = b, a
	}
	return (at.north-a.north)*(b.east-a.east) < (b.north-a.north)*(at.east-a.east)
}

// difference reads one number of a polyline: groups of five bits, the lowest
// first, each above 62 while more follow; an odd number stands for a negative
// one (Encoded Polyline Algorithm Format).
func difference(ring []byte) (int, []byte) {
	coded := 0
	for i, b := range ring {
		group := int(b) - 63
		coded |= group & 31 << (5 * min(i, 6))
		if group < 32 {
			ring = ring[i+1:]
			return coded>>1 ^ -(coded & 1), ring
		}
	}
	return 0, nil
}
