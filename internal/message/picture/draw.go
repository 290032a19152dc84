package picture

import (
	"math"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/unit"
)

// draw puts the whole bed on a canvas and gives the height it took.
func draw(c canvas, b Bed) float64 {
	s := b.scale()
	c.text(lettering{ink: black, size: 13}, pt{6, 18}, fit(b.Title, width-12, 13, false))
	c.text(lettering{ink: black, size: 16, bold: true}, pt{6, 38}, fit(b.Headline, width-12, 16, true))
	if len(b.Hours) == 0 {
		b.drawGaps(c, s)
		return plotFoot + 6
	}
	b.drawNights(c, s)
	b.drawAxis(c, s)
	b.drawBand(c, s)
	b.drawFalls(c, s)
	b.drawFloor(c, s)
	b.drawTissue(c, s)
	b.drawGaps(c, s)
	b.drawDeadline(c, s)
	y := b.drawDays(c, s, plotFoot)
	y = b.drawLows(c, s, y)
	y = b.drawWork(c, s, y)
	y = b.drawSnow(c, s, y)
	return b.drawLegend(c, y)
}

func (b Bed) drawNights(c canvas, s scale) {
	var nights [][]pt
	for _, n := range b.runs(func(h Hour) bool { return h.Night }) {
		nights = append(nights, box(s.x(n.from), plotTop, s.x(n.to)-s.x(n.from), plotFoot-plotTop))
	}
	c.fill(dusk, nights...)
}

func (b Bed) drawAxis(c canvas, s scale) {
	freezing := b.degrees(freezingC)
	for _, v := range b.ticks(s) {
		if v != freezing {
			c.line(pen{ink: pale, width: 0.6}, []pt{pt{left, s.y(v)}, pt{right, s.y(v)}})
			c.text(lettering{ink: grey, size: 11, at: end}, pt{left - 4, s.y(v) + 4}, number(v))
			continue
		}
		c.line(pen{ink: black, width: 1, dash: []float64{7, 3}}, []pt{pt{left, s.y(v)}, pt{right, s.y(v)}})
		c.text(lettering{ink: black, size: 11, bold: true, at: end}, pt{left - 3, s.y(v) + 4}, number(v)+" "+b.degreeUnit())
	}
}

// drawGaps frames the hours that no forecast covers, so that an empty stretch is
// not taken for a quiet one.
func (b Bed) drawGaps(c canvas, s scale) {
	for _, g := range b.gaps() {
		x, to := s.x(g.from), s.x(g.to)
		rect(c, white, x, plotTop, to-x, plotFoot-plotTop)
		frame(c, pen{ink: grey, width: 1, dash: []float64{2, 3}}, x, plotTop, to-x, plotFoot-plotTop)
		words := b.Phrases.NoData
		if textWidth(words, 12, true) > to-x-8 {
			words = "?"
		}
		c.text(lettering{ink: black, size: 12, bold: true, at: middle}, pt{(x + to) / 2, (plotTop + plotFoot) / 2}, words)
	}
}

// drawDeadline draws one line through the plot under a flag that names the hour.
func (b Bed) drawDeadline(c canvas, s scale) {
	if now := b.Now; len(b.Hours) > 0 && now.After(s.from.Add(time.Hour)) && s.x(now) < right {
		c.line(pen{ink: grey, width: 1, dash: []float64{2, 2}}, []pt{pt{s.x(now), plotTop}, pt{s.x(now), plotFoot}})
		c.text(lettering{ink: grey, size: 11}, pt{s.x(now) + 3, plotTop + 11}, b.Phrases.Now)
	}
	x, ok := b.deadlineX(s)
	if !ok {
		return
	}
	c.line(pen{ink: black, width: 2}, []pt{pt{x, plotTop - 6}, pt{x, plotFoot}})
	deadline := b.Deadline.Else(b.Now)
	label := b.weekday(deadline) + " " + deadline.In(b.Zone).Format("2") + ", " + b.clock(deadline)
	const size = 12.0
	w := textWidth(label, size, true) + 12
	from := min(max(x-2, 6), width-6-w)
	rect(c, black, from, plotTop-22, w, 18)
	c.text(lettering{ink: white, size: size, bold: true, at: middle}, pt{from + w/2, plotTop - 8.8}, label)
}

// deadlineX is where the deadline stands; one outside the axis stands at its edge.
func (b Bed) deadlineX(s scale) (float64, bool) {
	deadline, ok := b.Deadline.Get()
	if !ok || len(b.Hours) == 0 {
		return 0, false
	}
	return min(max(s.x(deadline), left), right), true
}

// number is a rounded value with a true minus sign.
func number(v float64) string {
	s := strconv.FormatFloat(math.Round(v)+0, 'f', 0, 64)
	return strings.Replace(s, "-", "−", 1)
}

// sample is one hour of a curve; ok false: a gap.
type sample struct {
	x, y float64
	ok   bool
}

func (b Bed) curve(s scale, of func(Hour) unit.Maybe[unit.Celsius]) []sample {
	all := make([]sample, len(b.Hours))
	for i, h := range b.Hours {
		if c, ok := of(h).Get(); ok {
			y := s.y(b.degrees(c))
			all[i] = sample{s.x(h.At), min(max(y, plotTop), plotFoot), true}
		}
		if i > 0 && h.At.Sub(b.Hours[i-1].At) > 6*time.Hour {
			all[i].ok = false // a hole in time is no straight line
		}
	}
	return all
}

func (b Bed) drawBand(c canvas, s scale) {
	low := b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.AirP10 })
	high := b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.AirP90 })
	c.fill(sky, between(high, low)...)
}

// drawFalls fills what goes through the floor: pale with an edge, which grey print
// needs beside the band, for the coldest tenth; dark for the middle of the courses.
func (b Bed) drawFalls(c canvas, s scale) {
	floor := b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.Tolerance })
	tenth := between(floor, b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.TissueP10 }))
	c.fill(blush, tenth...)
	for i, area := range tenth {
		tenth[i] = append(area, area[0])
	}
	c.line(pen{ink: brick, width: 0.7}, tenth...)
	c.fill(brick, between(floor, b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.TissueP50 }))...)
}

// drawFloor draws the tolerance like the ground in an engineer's sketch: a line
// with strokes hanging from it.
func (b Bed) drawFloor(c canvas, s scale) {
	floor := b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.Tolerance })
	next := left + 6
	var strokes [][]pt
	runs := unbroken(floor)
	for _, run := range runs {
		for _, p := range run {
			if p.x >= next && p.y+5 < plotFoot {
				strokes = append(strokes, []pt{p, {p.x - 4, p.y + 5}})
				next = p.x + 6
			}
		}
	}
	c.line(pen{ink: brick, width: 0.9}, strokes...)
	c.line(pen{ink: brick, width: 2}, runs...)
	b.labelFloor(c, s, floor)
}

func (b Bed) labelFloor(c canvas, s scale, floor []sample) {
	tolerance, ok := b.firstTolerance()
	if !ok {
		return
	}
	label := b.Phrases.Stands + " " + b.Units.Temperature(tolerance)
	const size = 11
	coldest := b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return lower(h.TissueP10, h.TissueP50) })
	at := roomUnder(floor, coldest, textWidth(label, size, true))
	c.text(lettering{ink: brick, size: size, bold: true}, at, label)
}

func (b Bed) firstTolerance() (unit.Celsius, bool) {
	for _, h := range b.Hours {
		if c, ok := h.Tolerance.Get(); ok {
			return c, true
		}
	}
	return 0, false
}

// roomUnder finds the place nearest under the floor where a label of that width
// meets nothing that falls through it.
func roomUnder(floor, coldest []sample, w float64) pt {
	const foot = plotFoot - 4
	for drop := 16.0; drop < foot-plotTop; drop += 6 {
		for x := left + 4; x+w <= right-4; x += 8 {
			if y, free := roomAt(floor, coldest, x, w, drop); free && y <= foot {
				return pt{x, y}
			}
		}
	}
	return pt{left + 4, foot}
}

// roomAt is the height of a label some way under the floor, and whether it is
// free: the floor runs all along it and nothing comes down to it.
func roomAt(floor, coldest []sample, x, w, drop float64) (y float64, free bool) {
	lowest, reach := plotTop, x
	for i, p := range floor {
		if p.x < x-6 || p.x > x+w+6 {
			continue
		}
		if !p.ok || coldest[i].ok && coldest[i].y > p.y+drop-11 {
			return 0, false
		}
		lowest, reach = max(lowest, p.y), p.x
	}
	return lowest + drop, reach >= x+w
}

func (b Bed) drawTissue(c canvas, s scale) {
	for _, run := range unbroken(b.curve(s, func(h Hour) unit.Maybe[unit.Celsius] { return h.TissueP50 })) {
		for _, piece := range offTheTop(run) {
			c.line(pen{ink: leafy, width: 2.2}, piece)
		}
	}
}
