package lifting

// tiny is below what anyone would lift: 4 ms of work, or a milligram.
const tiny = 1e-6

// transport carries amounts from sources (beds) to sinks (slots of crew time, or
// rooms) that each take so much, along the pairs that are open.
type transport struct {
	room []float64 // left at each sink
	open [][]bool  // source, sink
	x    [][]float64
	done [][]bool // pairs that are settled and must not change
}

func newTransport(room []float64, open [][]bool) *transport {
	t := &transport{room: append([]float64(nil), room...), open: open}
	for range open {
		t.x = append(t.x, make([]float64, len(room)))
		t.done = append(t.done, make([]bool, len(room)))
	}
	return t
}

// push brings in as much of an amount from one source as fits, moving what
// others have to where it fits as well. No source gives up any of its total.
// Shortest ways first, so it ends (Edmonds & Karp 1972, from memory).
func (t *transport) push(i int, amount float64) (brought float64) {
	for amount-brought > tiny {
		moved := 0.0
		for s := range t.room {
			if t.open[i][s] && t.room[s] > tiny {
				moved = min(amount-brought, t.room[s])
				t.x[i][s] += moved
				t.room[s] -= moved
				break
			}
		}
		if moved == 0 {
			moved = t.displace(i, amount-brought)
		}
		if moved <= tiny {
			return brought
		}
		brought += moved
	}
	return brought
}

// displace finds a way for source i into a full sink.
func (t *transport) displace(i int, amount float64) float64 {
	var starts []int
	for s := range t.room {
		if t.open[i][s] && !t.done[i][s] {
			starts = append(starts, s)
		}
	}
	way, ok := t.search(starts, i, func(s int) bool { return t.room[s] > tiny })
	if !ok {
		return 0
	}
	end := way[len(way)-1].sink
	amount = t.along(way, min(amount, t.room[end]))
	t.x[i][way[0].sink] += amount
	t.room[end] -= amount
	return amount
}

// hop is a sink reached by moving what `source` has in the sink before.
type hop struct {
	source, sink int
}

// search goes breadth first from full sinks, over what other sources could move
// out of them, to a sink that satisfies goal.
func (t *transport) search(starts []int, except int, goal func(sink int) bool) ([]hop, bool) {
	from := make([]int, len(t.room))
	by := make([]int, len(t.room))
	for s := range from {
		from[s] = -2
	}
	for _, s := range starts {
		from[s] = -1
	}
	for queue := starts; len(queue) > 0; queue = queue[1:] {
		s := queue[0]
		if goal(s) {
			return trace(s, from, by), true
		}
		for j := range t.open {
			if j == except || t.x[j][s] <= tiny || t.done[j][s] {
				continue
			}
			for next := range t.room {
				if from[next] == -2 && t.open[j][next] && !t.done[j][next] {
					from[next], by[next] = s, j
					queue = append(queue, next)
				}
			}
		}
	}
	return nil, false
}

func trace(s int, from, by []int) []hop {
	var way []hop
	for ; s != -1; s = from[s] {
		way = append([]hop{{by[s], s}}, way...)
	}
	return way
}

// along moves an amount, or as much as there is, hop by hop.
func (t *transport) along(way []hop, amount float64) float64 {
	for n := 1; n < len(way); n++ {
		amount = min(amount, t.x[way[n].source][way[n-1].sink])
	}
	for n := 1; n < len(way); n++ {
		t.x[way[n].source][way[n-1].sink] -= amount
		t.x[way[n].source][way[n].sink] += amount
	}
	return amount
}

// prefer puts as much of source i as possible into one sink without changing
// any total, then settles that pair. Called for all pairs in order of liking it
// gives the arrangement that is first in that order.
func (t *transport) prefer(i, sink int) {
	if !t.open[i][sink] {
		return
	}
	t.done[i][sink] = true
	for {
		elsewhere := func(s int) bool { return s != sink && !t.done[i][s] && t.x[i][s] > tiny }
		from := -1
		for s := range t.room {
			if elsewhere(s) {
				from = s
			}
		}
		if from < 0 || t.draw(i, sink, from, elsewhere) <= tiny {
			return
		}
	}
}

// draw moves part of source i into sink out of one of its other sinks.
func (t *transport) draw(i, sink, from int, elsewhere func(int) bool) float64 {
	goal := func(s int) bool { return t.room[s] > tiny || elsewhere(s) }
	way, ok := t.search([]int{sink}, i, goal)
	if !ok {
		return 0
	}
	end := way[len(way)-1].sink
	limit := t.x[i][from]
	if t.room[end] > tiny {
		limit = min(limit, t.room[end])
	} else {
		from = end
		limit = t.x[i][from]
	}
	moved := t.along(way, limit)
	t.x[i][sink] += moved
	t.room[end] -= moved
	t.x[i][from] -= moved
	t.room[from] += moved
	return moved
}
