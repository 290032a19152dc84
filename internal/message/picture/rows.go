package picture

import "winterstand/internal/farm"

// The rows under the plot: each takes the y it may begin at and gives where it ends.

// drawDays writes weekday and day of the month at noon and a stroke at midnight.
func (b Bed) drawDays(c canvas, s scale, y float64) float64 {
	c.line(pen{ink: black, width: 1}, []pt{pt{left, y}, pt{right, y}})
	for _, d := range b.days() {
		from, to := max(s.x(d.Start(b.Zone)), left), min(s.x(d.Add(1).Start(b.Zone)), right)
		if from > left {
			c.line(pen{ink: black, width: 1}, []pt{pt{from, y}, pt{from, y + 5}})
		}
		if to-from < 24 {
			continue
		}
		at := pt{(from + to) / 2, y + 14}
		c.text(lettering{ink: black, size: 11, bold: true, at: middle}, at, b.weekday(d.Noon(b.Zone)))
		c.text(lettering{ink: grey, size: 11, at: middle}, pt{at.x, at.y + 12}, d.Noon(b.Zone).Format("2"))
	}
	return y + 32
}

// days that the axis touches.
func (b Bed) days() []farm.Day {
	if len(b.Hours) == 0 {
		return nil
	}
	var all []farm.Day
	end := b.Hours[0].At.Add(span)
	for d := farm.DayOf(b.Hours[0].At, b.Zone); d.Start(b.Zone).Before(end); d = d.Add(1) {
		all = append(all, d)
	}
	return all
}

func caption(c canvas, y float64, s string) float64 {
	c.text(lettering{ink: black, size: 11}, pt{6, y + 11}, fit(s, width-12, 11, false))
	return y + 15
}

// drawLows writes the low of each night under its midnight; on black where the
// bed is more likely to fall below than not, in a frame where one in ten does.
func (b Bed) drawLows(c canvas, s scale, y float64) float64 {
	y = caption(c, y, b.Phrases.NightLow+", "+b.degreeUnit())
	for _, n := range b.axisNights() {
		x := s.x(n.middle)
		if x >= left-4 && x <= right-6 {
			b.drawLow(c, x, y, n)
		}
	}
	return y + 22
}

func (b Bed) drawLow(c canvas, x, y float64, n night) {
	const half, high = 13.0, 16.0
	f := lettering{ink: black, size: 12, bold: n.tenth, at: middle}
	switch {
	case n.half:
		rect(c, black, x-half, y, 2*half, high)
		f.ink = white
	case n.tenth:
		frame(c, pen{ink: black, width: 1}, x-half, y, 2*half, high)
	}
	words := "?"
	if low, ok := n.airLow.Get(); ok {
		words = number(b.degrees(low))
	}
	c.text(f, pt{x, y + 12.5}, words)
}

// axisNights are the nights of the whole axis, also those that no hour covers.
func (b Bed) axisNights() []night {
	known := map[farm.Day]night{}
	for _, n := range b.nights() {
		known[n.day] = n
	}
	var all []night
	for _, d := range b.days() {
		n := known[d]
		n.day, n.middle = d, d.Add(1).Start(b.Zone)
		all = append(all, n)
	}
	return all
}

// drawWork draws the windows: filled, after the deadline hollow, the last one
// before it black and taller.
func (b Bed) drawWork(c canvas, s scale, y float64) float64 {
	windows, last := b.windows(), b.lastWindow()
	title := b.Phrases.Work
	if b.Deadline.Known() && last < len(windows)-1 {
		title += " (" + b.Phrases.TooLate + ")"
	}
	y = caption(c, y, title)
	c.line(pen{ink: grey, width: 1}, []pt{pt{left, y + 15}, pt{right, y + 15}})
	for i, w := range windows {
		x, wide := s.x(w.from), max(s.x(w.to)-s.x(w.from), 1.5)
		switch {
		case b.Deadline.Known() && i > last:
			frame(c, pen{ink: grey, width: 1}, x, y+4, wide, 11)
		case i == last:
			rect(c, black, x, y-1, wide, 16)
			b.drawClock(c, s, y, windows, i)
		default:
			rect(c, work, x, y+4, wide, 11)
		}
	}
	for _, g := range b.gaps() {
		c.text(lettering{ink: black, size: 12, bold: true, at: middle}, pt{(s.x(g.from) + s.x(g.to)) / 2, y + 12}, "?")
	}
	if len(windows) == 0 && len(b.Hours) > 0 {
		c.text(lettering{ink: black, size: 12, bold: true}, pt{left + 4, y + 12}, b.Phrases.None)
	}
	return y + 22
}

// lastWindow is the index of the last window that begins before the deadline; -1:
// there is no deadline or no such window.
func (b Bed) lastWindow() int {
	last := -1
	if deadline, ok := b.Deadline.Get(); ok {
		for i, w := range b.windows() {
			if w.from.Before(deadline) {
				last = i
			}
		}
	}
	return last
}

// drawClock writes the hours of the last window beside it, on the side that is free.
func (b Bed) drawClock(c canvas, s scale, y float64, windows []stretch, i int) {
	w := windows[i]
	words := b.clock(w.from) + "–" + b.clock(w.to)
	wide := textWidth(words, 11, true)
	from, to := left, right
	for _, other := range append(b.gaps(), windows...) {
		if !other.to.After(w.from) {
			from = max(from, s.x(other.to))
		}
		if !other.from.Before(w.to) {
			to = min(to, s.x(other.from))
		}
	}
	f := lettering{ink: black, size: 11, bold: true}
	switch {
	case s.x(w.to)+wide+8 < to:
		c.text(f, pt{s.x(w.to) + 4, y + 11}, words)
	case s.x(w.from)-wide-8 > from:
		c.text(f, pt{s.x(w.from) - 4 - wide, y + 11}, words)
	}
}

// drawSnow draws the depth of each day as a bar with its number; no row where it
// is known that there is none.
func (b Bed) drawSnow(c canvas, s scale, y float64) float64 {
	most, unknown, snow := 0.0, false, b.snowByDay()
	for _, d := range b.days() {
		cm, ok := snow[d]
		most, unknown = max(most, b.depth(cm)), unknown || !ok
	}
	if most < 0.5 && !unknown {
		return y
	}
	y = caption(c, y, b.Phrases.Snow+", "+b.depthUnit())
	const high = 18.0
	foot := y + 13 + high
	for _, d := range b.days() {
		x := s.x(d.Noon(b.Zone))
		if x < left+10 || x > right-10 {
			continue
		}
		label, tall := "?", 0.0
		if cm, ok := snow[d]; ok {
			label, tall = number(b.depth(cm)), high*b.depth(cm)/max(most, 1)
			rect(c, grey, x-10, foot-tall, 20, tall)
		}
		c.text(lettering{ink: black, size: 11, at: middle}, pt{x, foot - tall - 3}, label)
	}
	c.line(pen{ink: grey, width: 1}, []pt{{left, foot}, {right, foot}})
	return foot + 6
}

// drawLegend names the forms, as many to a line as fit.
func (b Bed) drawLegend(c canvas, y float64) float64 {
	p := b.Phrases
	marks := []struct {
		words string
		mark  func(x, y float64)
	}{
		{p.Air, func(x, y float64) { rect(c, sky, x, y-8, 18, 9) }},
		{p.Tissue, func(x, y float64) { c.line(pen{ink: leafy, width: 2.2}, []pt{pt{x, y - 4}, pt{x + 18, y - 4}}) }},
		{p.Stands, func(x, y float64) {
			c.line(pen{ink: brick, width: 2}, []pt{pt{x, y - 6}, pt{x + 18, y - 6}})
			for i := 5.0; i <= 17; i += 6 {
				c.line(pen{ink: brick, width: 0.9}, []pt{pt{x + i, y - 6}, pt{x + i - 4, y - 1}})
			}
		}},
		{p.Freezing, func(x, y float64) {
			c.line(pen{ink: black, width: 1, dash: []float64{7, 3}}, []pt{pt{x, y - 4}, pt{x + 18, y - 4}})
		}},
		{p.Tenth, func(x, y float64) {
			rect(c, blush, x, y-8, 18, 9)
			frame(c, pen{ink: brick, width: 0.7}, x, y-8, 18, 9)
		}},
		{p.Half, func(x, y float64) { rect(c, brick, x, y-8, 18, 9) }},
	}
	x := 6.0
	y += 14
	for _, m := range marks {
		w := 22 + textWidth(m.words, 11, false)*1.04 + 10
		if x > 6 && x+w > width {
			x, y = 6, y+16
		}
		m.mark(x, y)
		c.text(lettering{ink: black, size: 11}, pt{x + 22, y}, m.words)
		x += w
	}
	return y + 8
}
