package picture

import "math"

// unbroken gives the runs of a curve without gaps.
func unbroken(curve []sample) [][]pt {
	var runs [][]pt
	open := false
	for _, p := range curve {
		if !p.ok {
			open = false
			continue
		}
		if !open {
			runs = append(runs, nil)
			open = true
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], pt{p.x, p.y})
	}
	return runs
}

// between gives the areas in which the lower curve lies below the upper one (y
// grows downwards); where they cross the area ends at the crossing.
func between(upper, lower []sample) [][]pt {
	var areas [][]pt
	var top, foot []pt
	closeArea := func() {
		if len(top) > 1 {
			for i := len(foot) - 1; i >= 0; i-- {
				top = append(top, foot[i])
			}
			areas = append(areas, top)
		}
		top, foot = nil, nil
	}
	for i := range upper {
		known := upper[i].ok && lower[i].ok
		if i > 0 && known && upper[i-1].ok && lower[i-1].ok {
			if p, crossed := crossing(upper[i-1], upper[i], lower[i-1], lower[i]); crossed {
				top, foot = append(top, p), append(foot, p)
			}
		}
		if !known || lower[i].y <= upper[i].y {
			closeArea()
			continue
		}
		top, foot = append(top, pt{upper[i].x, upper[i].y}), append(foot, pt{lower[i].x, lower[i].y})
	}
	closeArea()
	return areas
}

// crossing of two curves between two samples of equal x.
func crossing(u0, u1, l0, l1 sample) (pt, bool) {
	d0, d1 := l0.y-u0.y, l1.y-u1.y
	if d0 == d1 || (d0 > 0) == (d1 > 0) {
		return pt{}, false
	}
	w := d0 / (d0 - d1)
	return pt{u0.x + w*(u1.x-u0.x), u0.y + w*(u1.y-u0.y)}, true
}

// offTheTop leaves out the stretches that run along the upper edge, where the
// curve is outside the picture.
func offTheTop(run []pt) [][]pt {
	var pieces [][]pt
	var piece []pt
	for i, p := range run {
		inside := p.y > plotTop
		beside := i > 0 && run[i-1].y > plotTop || i+1 < len(run) && run[i+1].y > plotTop
		if inside || beside {
			piece = append(piece, p)
		}
		if !inside && len(piece) > 1 {
			pieces = append(pieces, piece)
			piece = nil
			if i+1 < len(run) && run[i+1].y > plotTop {
				piece = []pt{p}
			}
		} else if !inside && !beside {
			piece = nil
		}
	}
	if len(piece) > 1 {
		pieces = append(pieces, piece)
	}
	return pieces
}

// simpler leaves out the points that lie within a tolerance of the line without
// them (Ramer 1972; Douglas & Peucker 1973).
func simpler(line []pt, tolerance float64) []pt {
	if len(line) < 3 {
		return line
	}
	first, last := line[0], line[len(line)-1]
	at, most := 0, tolerance
	for i := 1; i < len(line)-1; i++ {
		if d := distance(line[i], first, last); d > most {
			at, most = i, d
		}
	}
	if at == 0 {
		return []pt{first, last}
	}
	head := simpler(line[:at+1], tolerance)
	return append(head[:len(head)-1:len(head)-1], simpler(line[at:], tolerance)...)
}

// distance of a point from the stretch between two others.
func distance(p, a, b pt) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	along := 0.0
	if square := dx*dx + dy*dy; square > 0 {
		along = min(max(((p.x-a.x)*dx+(p.y-a.y)*dy)/square, 0), 1)
	}
	return math.Hypot(p.x-a.x-along*dx, p.y-a.y-along*dy)
}
