package crop

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"winterstand/internal/unit"
)

// numbers are the figures of one entry, checked, in SI, by name.
type numbers struct {
	value map[string]float64
	basis map[string]Basis
}

func (n numbers) has(name string) bool { _, ok := n.value[name]; return ok }

func (n numbers) tissue(name string) unit.Celsius { return inTissue(n.value[name], n.basis[name]) }

// crop reads one entry. What is wrong in it is collected, not returned.
func (r *reader) crop(name string, e entry) Crop {
	at := "crop." + name
	c := Crop{
		Name: name, Aliases: e.Aliases, Titles: e.Title, Family: e.Family, Organ: e.Organ,
		Conflict: e.Conflict, Remark: e.Remark, Review: e.Review,
		Cautions: e.Cautions,
	}
	r.words(at, e)
	n := r.numbers(at, e, &c)
	r.listed(at, e, &c)
	r.claims(at, e, &c)
	r.gather(&c)
	if len(r.bad) == 0 {
		fill(&c, n)
		r.plausible(at, c)
	}
	return c
}

func (r *reader) words(at string, e entry) {
	choice(r, at+".organ", e.Organ, organs)
	choice(r, at+".family", e.Family, families)
	for i, c := range e.Cautions {
		choice(r, at+".cautions["+strconv.Itoa(i)+"]", c, Cautions())
	}
	for _, language := range r.languages() {
		if strings.TrimSpace(e.Title[language]) == "" {
			r.refuse(at+".title", "needs what people call it in %q", language)
		}
	}
}

// languages of the titles: English, and every other that any entry speaks.
func (r *reader) languages() []string {
	all := []string{fallback}
	for _, e := range r.doc.Crop {
		all = slices.AppendSeq(all, maps.Keys(e.Title))
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// numbers checks every figure of the entry and that none is missing.
func (r *reader) numbers(at string, e entry, c *Crop) numbers {
	n := numbers{map[string]float64{}, map[string]Basis{}}
	for name := range e.Figure {
		if _, known := specOf(name); !known {
			r.refuse(at+".figure."+name, "no such figure: must be one of %s", list(specNames()))
		}
	}
	for _, s := range specs {
		path, f, ok := r.find(at, e, s)
		if !ok {
			if why := missing(s, e); why != "" {
				r.refuse(at+".figure", "figure %s is missing: %s", s.name, why)
			}
			continue
		}
		fig, v := r.figure(path, f, s)
		c.Figures = append(c.Figures, fig)
		n.value[s.name], n.basis[s.name] = v, f.Basis
	}
	return n
}

// find looks in the entry, then in [common] for the figures that may stand there.
func (r *reader) find(at string, e entry, s spec) (path string, f figure, ok bool) {
	if f, ok = e.Figure[s.name]; ok || s.need != common {
		return at + ".figure." + s.name, f, ok
	}
	f, ok = r.doc.Common[s.name]
	return "common." + s.name, f, ok
}

// missing says why a figure that is not there should be, "" where it need not.
func missing(s spec, e entry) string {
	switch s.need {
	case always:
		return "every crop has one"
	case common:
		return "give it here or in [common]"
	case inGround:
		if e.Organ == Root || e.Organ == Bulb {
			return "a " + string(e.Organ) + " is judged in the ground"
		}
	case withCold:
		group, _, _ := strings.Cut(s.name, "_")
		for name := range e.Figure {
			if strings.HasPrefix(name, group+"_") {
				return "it goes with " + name
			}
		}
	}
	return ""
}

// listedSpec is what a single list may say: a temperature of any kind.
var listedSpec = spec{name: "listed", kind: temperature, low: -40, high: 15}

func (r *reader) listed(at string, e entry, c *Crop) {
	for i, f := range e.Listed {
		fig, _ := r.figure(at+".listed["+strconv.Itoa(i)+"]", f, listedSpec)
		c.Figures = append(c.Figures, fig)
	}
}

func (r *reader) claims(at string, e entry, c *Crop) {
	for i, v := range e.Evidence {
		path := at + ".evidence[" + strconv.Itoa(i) + "]"
		choice(r, path+".mark", v.Mark, marks)
		r.source(path, v.Source)
		if strings.TrimSpace(v.Says) == "" {
			r.refuse(path, "says is missing: what the source says")
		}
		c.Evidence = append(c.Evidence, Evidence(v))
	}
}

// gather collects the sources an entry names.
func (r *reader) gather(c *Crop) {
	c.Sources = map[string]string{}
	for _, f := range c.Figures {
		for _, code := range f.Codes {
			c.Sources[code] = r.doc.Sources[code]
		}
	}
	for _, e := range c.Evidence {
		c.Sources[e.Source] = r.doc.Sources[e.Source]
	}
}

// fill sets the working numbers of a crop from its figures.
func fill(c *Crop, n numbers) {
	c.HeightCm, c.LowCm = n.value["height"], n.value["lowest"]
	c.Sold = Hardening{
		Unhardened: n.tissue("unhardened"), Cold: n.tissue("cold"), Full: n.tissue("full"),
		Rate: n.value["rate"], LossRate: n.value["loss_rate"], Width: unit.Kelvins(n.value["width"]),
	}
	c.Margin, c.Spread = unit.Kelvins(n.value["margin"]), unit.Kelvins(n.value["spread"])
	c.DepthCm, c.ShoulderCm = n.value["root_depth"], n.value["shoulder_depth"]
	c.TopsCm = n.value["tops"]
	if !c.Organ.AboveGround() && n.has("freezes") {
		c.Freezes = unit.Some(n.tissue("freezes"))
	}
	if n.has("chill_below") {
		c.Chill = unit.Some(Chill{Below: n.tissue("chill_below"), Hours: n.value["chill_hours"]})
	}
	if n.has("crown_full") {
		c.CrownCm = n.value["crown_depth"]
		c.Regrow = unit.Some(Hardening{
			Unhardened: n.tissue("crown_unhardened"), Cold: n.tissue("crown_cold"), Full: n.tissue("crown_full"),
			Rate: n.value["crown_rate"], LossRate: c.Sold.LossRate, Width: c.Sold.Width,
		})
	}
	c.Lists = lists(n)
}

func lists(n numbers) Lists {
	of := func(name string) unit.Maybe[unit.Celsius] {
		if !n.has(name) {
			return unit.None[unit.Celsius]()
		}
		return unit.Some(unit.Celsius(n.value[name]))
	}
	return Lists{Start: of("start"), KillUnhardened: of("kill_unhardened"), KillHardened: of("kill_hardened"),
		Basis: n.basis["kill_hardened"]}
}

// plausible checks how the numbers stand to each other.
func (r *reader) plausible(at string, c Crop) {
	r.ordered(at+".figure.", "", c.Sold)
	if h, ok := c.Regrow.Get(); ok {
		r.ordered(at+".figure.", "crown_", h)
	}
	if c.LowCm > c.HeightCm {
		r.refuse(at+".figure.lowest", "%g cm is above the height of %g cm: must not be", c.LowCm, c.HeightCm)
	}
	if c.ShoulderCm > c.DepthCm && c.DepthCm > 0 {
		r.refuse(at+".figure.shoulder_depth", "%g cm is below the middle of the root at %g cm: must not be", c.ShoulderCm, c.DepthCm)
	}
}

func (r *reader) ordered(at, group string, h Hardening) {
	const rule = "must be full ≤ cold ≤ unhardened ≤ 0 °C in tissue terms"
	if h.Unhardened > 0 {
		r.refuse(at+group+"unhardened", "%g °C in tissue terms: %s", float64(h.Unhardened), rule)
	}
	if h.Cold > h.Unhardened {
		r.refuse(at+group+"cold", "%g °C is above unhardened %g °C: %s", float64(h.Cold), float64(h.Unhardened), rule)
	}
	if h.Full > h.Cold {
		r.refuse(at+group+"full", "%g °C is above cold %g °C: %s", float64(h.Full), float64(h.Cold), rule)
	}
	if h.Rate == 0 && h.Full != h.Unhardened {
		r.refuse(at+group+"rate", "0 means that it does not harden: full and unhardened must then be equal")
	}
}

// sorted gives the names of the entries in order.
func sorted(m map[string]entry) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}
