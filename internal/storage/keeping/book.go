// Package keeping says how long a harvest lasts. Every lot has two clocks: it
// ages (respiration, or a Q10 where that is not known) and it dries (vapour
// pressure deficit, skin, container). The first to run out ends it, and both
// follow the temperature and humidity of the room hour by hour.
//
// Which figure wins: at 3.9 °C (39 °F) the life that is common practice; at 0 °C
// the published one; between and beyond them respiration, made to rise with
// temperature, or a Q10. Drying counts only where skin and limit are known, and
// a lot without them says so. Colder than the coldest figure nothing is gained.
//
// Nothing in here reads a clock, a file or a database: the caller brings the
// table, the room's course and the hour.
package keeping

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/pelletier/go-toml/v2"

	"winterstand/config"
	"winterstand/internal/crop"
)

// Book is the whole table: crops, families as a fallback, containers, rooms.
type Book struct {
	general    General
	crops      map[string]*Entry // by every key an entry answers to
	families   map[string]*Entry
	containers map[string]Container
	humidity   map[string]float64 // assumed, by room kind
	entries    []*Entry           // in the order of the file
}

// General holds the figures that count for every crop.
type General struct {
	Q10           Number `toml:"q10"`
	FrozenQ10     Number `toml:"frozen_q10"`
	WaterSpread   Number `toml:"water_spread"` // p90 over p50 of the water clock
	PromptDays    Number `toml:"prompt_d"`
	PromptAt      Number `toml:"prompt_at_c"`
	UncuredFactor Number `toml:"uncured_factor"`
	FrozenAfter   Number `toml:"frozen_after_h"`
	ChillHalving  Number `toml:"chill_halving_k"`
}

// Container is what a lot lies in. Leak is its own conductance for water vapour
// in ng/(kg·s·Pa); none: the room's air reaches the produce.
type Container struct {
	Name   string  `toml:"name"`
	Leak   float64 `toml:"leak"`
	Source string  `toml:"source"`
}

// Closed tells whether the container keeps the room's air out.
func (c Container) Closed() bool { return c.Leak > 0 }

// file is the shape of the table as it is written.
type file struct {
	Sources    []source    `toml:"source"`
	General    General     `toml:"general"`
	Containers []Container `toml:"container"`
	Rooms      []roomAir   `toml:"room"`
	Crops      []*Entry    `toml:"crop"`
	Families   []*Entry    `toml:"family"`
	Frozen     LifeAt      `toml:"frozen"`
	_          struct{}    // keep composite literals keyed
}

type source struct {
	Key        string    `toml:"key"`
	Mark       crop.Mark `toml:"mark"`
	Confidence string    `toml:"confidence"`
	Text       string    `toml:"text"`
}

type roomAir struct {
	Kind     string  `toml:"kind"`
	Humidity float64 `toml:"humidity"`
	Source   string  `toml:"source"`
}

// Default is the table inside the program. It is read once.
func Default() (*Book, error) { return embedded() }

var embedded = sync.OnceValues(func() (*Book, error) { return Load("keeping.toml", config.Keeping) })

// Load reads the table. Unknown keys, figures without a known source and values
// outside their range are errors that name file, line and field.
func Load(name string, text []byte) (*Book, error) {
	var f file
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&f); err != nil {
		return nil, fmt.Errorf("%s: %s", name, explain(err))
	}
	b, err := f.book()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", at(name, text, err), err)
	}
	return b, nil
}

// explain keeps the line that the parser knows.
func explain(err error) string {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		return "unknown key\n" + strict.String()
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, col := decode.Position()
		return fmt.Sprintf("line %d, column %d, field %s: %s",
			row, col, strings.Join(decode.Key(), "."), decode.Error())
	}
	return err.Error()
}

// entryError is a fault of one entry, so that its line can be found.
type entryError struct {
	name  string
	field string
	want  string
}

func (e entryError) Error() string {
	return fmt.Sprintf("%s, field %s: %s", e.name, e.field, e.want)
}

// at is "file:line" of the entry that an error names.
func at(name string, text []byte, err error) string {
	var e entryError
	if !errors.As(err, &e) {
		return name
	}
	for i, line := range strings.Split(string(text), "\n") {
		if strings.TrimSpace(line) == fmt.Sprintf("name = %q", e.name) {
			return fmt.Sprintf("%s:%d", name, i+1)
		}
	}
	return name
}

func (f file) book() (*Book, error) {
	b := &Book{
		general: f.General, crops: map[string]*Entry{}, families: map[string]*Entry{},
		containers: map[string]Container{}, humidity: map[string]float64{}, entries: f.Crops,
	}
	sources := map[string]source{}
	for _, s := range f.Sources {
		sources[s.Key] = s
	}
	if err := f.checkGeneral(sources); err != nil {
		return nil, err
	}
	for _, c := range f.Containers {
		b.containers[c.Name] = c
	}
	for _, r := range f.Rooms {
		b.humidity[r.Kind] = r.Humidity
	}
	for _, e := range slices.Concat(f.Crops, f.Families) {
		e.general, e.sources = &b.general, sources
		if e.Freezer == nil {
			frozen := f.Frozen
			e.Freezer = &frozen
		}
		if err := e.check(); err != nil {
			return nil, err
		}
	}
	return b, b.index(f)
}

func (f file) checkGeneral(sources map[string]source) error {
	g := f.General
	for field, n := range map[string]Number{
		"q10": g.Q10, "frozen_q10": g.FrozenQ10, "water_spread": g.WaterSpread, "prompt_d": g.PromptDays,
		"prompt_at_c": g.PromptAt, "uncured_factor": g.UncuredFactor, "frozen_after_h": g.FrozenAfter,
		"chill_halving_k": g.ChillHalving,
	} {
		if _, ok := sources[n.Source]; !ok || !(n.Value > 0) {
			return fmt.Errorf("[general] %s: must be a number above 0 with a source of the list", field)
		}
	}
	for _, c := range f.Containers {
		if !(c.Leak >= 0) {
			return fmt.Errorf("container %s: leak must be 0 (open) or above", c.Name)
		}
	}
	for _, r := range f.Rooms {
		if !(r.Humidity > 0 && r.Humidity <= 1) {
			return fmt.Errorf("room %s: humidity must be between 0 and 1", r.Kind)
		}
	}
	return nil
}

func (b *Book) index(f file) error {
	for _, e := range f.Families {
		b.families[e.Name] = e
	}
	for _, e := range f.Crops {
		for _, key := range append([]string{e.Name}, e.Also...) {
			if _, twice := b.crops[key]; twice {
				return entryError{e.Name, "also", fmt.Sprintf("%q is named twice in the table", key)}
			}
			b.crops[key] = e
		}
	}
	return nil
}

// Entry finds what is known of a crop by its catalogue key, else by its family;
// then it says so. Neither is an error, never a guess.
func (b *Book) Entry(key, family string) (*Entry, error) {
	e, ok := b.crops[key]
	if !ok {
		if e, ok = b.families[family]; !ok {
			return nil, fmt.Errorf("keeping life of %q: no such crop in the table, and no family %q", key, family)
		}
	}
	own := *e
	own.FromFamily = b.crops[key] == nil
	own.Name, own.Also = key, nil
	return &own, nil
}

// Entries lists the crops of the table in its order.
func (b *Book) Entries() []*Entry { return b.entries }

// Container finds a container by the contract's name.
func (b *Book) Container(name string) (Container, error) {
	c, ok := b.containers[name]
	if !ok {
		return Container{}, fmt.Errorf("container %q: must be one of open, tote, bag, crate, hung", name)
	}
	return c, nil
}
