package crop

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"sort"
	"strings"
	"sync"

	"winterstand/config"
)

// ErrUnknown: the catalogue has no such crop.
var ErrUnknown = errors.New("unknown crop")

// Catalogue is every crop the program knows, by name.
type Catalogue struct {
	crops []Crop         // sorted by name
	index map[string]int // name or alias → position
}

// Load reads a catalogue from TOML. name is the file's, for the messages: each
// wrong entry is told with file, line and what would be right.
func Load(name string, src []byte) (Catalogue, error) {
	doc, err := decode(name, src)
	if err != nil {
		return Catalogue{}, fmt.Errorf("load crop catalogue: %w", err)
	}
	r := reader{name: name, doc: doc, lines: linesOf(src)}
	cat := r.catalogue()
	if err := r.err(); err != nil {
		return Catalogue{}, fmt.Errorf("load crop catalogue: %w", err)
	}
	return cat, nil
}

// Default is the catalogue inside the program. It is read once.
func Default() (Catalogue, error) { return embedded() }

var embedded = sync.OnceValues(func() (Catalogue, error) { return Load("crops.toml", config.Crops) })

// proper is how names and aliases are written.
var proper = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)

func (r *reader) catalogue() Catalogue {
	cat := Catalogue{index: map[string]int{}}
	if len(r.doc.Crop) == 0 {
		r.refuse("crop", "no crops: must have at least one table like [crop.spinach]")
	}
	r.common()
	bad := r.bad
	for i, name := range sorted(r.doc.Crop) {
		r.bad = nil
		cat.crops = append(cat.crops, r.crop(name, r.doc.Crop[name]))
		r.claim(cat.index, "crop."+name, name, i)
		bad = append(bad, r.bad...)
	}
	r.bad = bad
	r.aliases(cat)
	return cat
}

// common checks that [common] holds only what may stand there.
func (r *reader) common() {
	for _, name := range slices.Sorted(maps.Keys(r.doc.Common)) {
		if s, ok := specOf(name); !ok || s.need != common {
			r.refuse("common."+name, "may not stand here: must be loss_rate or width")
		}
	}
}

func (r *reader) aliases(cat Catalogue) {
	for i, c := range cat.crops {
		for j, a := range c.Aliases {
			r.claim(cat.index, fmt.Sprintf("crop.%s.aliases[%d]", c.Name, j), a, i)
		}
	}
}

func (r *reader) claim(index map[string]int, path, name string, i int) {
	if !proper.MatchString(name) {
		r.refuse(path, "name %q: must be lower-case letters, digits and single hyphens", name)
	}
	if _, taken := index[name]; taken {
		r.refuse(path, "name %q is taken by another crop or alias: must be its own", name)
		return
	}
	index[name] = i
}

// All gives every crop, sorted by name.
func (c Catalogue) All() []Crop { return slices.Clone(c.crops) }

// Find gives the crop of a name or alias. Case, spaces and underscores do not
// matter, nor does a plural s. A name that is not known comes back as an error
// with the nearest names.
func (c Catalogue) Find(name string) (Crop, error) {
	key := tidy(clipped(name))
	for _, k := range []string{key, strings.TrimSuffix(key, "s"), strings.TrimSuffix(key, "es")} {
		if i, ok := c.index[k]; ok {
			return c.crops[i], nil
		}
	}
	return Crop{}, &UnknownError{Name: clipped(name), Near: c.nearest(key, 3)}
}

// UnknownError is ErrUnknown with the name that was looked for and the nearest
// names there are.
type UnknownError struct {
	Name string
	Near []string
}

// Error names them, for programs and logs.
func (e *UnknownError) Error() string {
	return fmt.Sprintf("crop %q is not in the catalogue (%v): did you mean %s?", e.Name, ErrUnknown, strings.Join(e.Near, ", "))
}

// Is tells that it is ErrUnknown.
func (e *UnknownError) Is(target error) bool { return target == ErrUnknown }

// longest is more than any name has; the rest of a longer one is not looked at.
const longest = 64

func clipped(name string) string { return name[:min(len(name), longest)] }

func tidy(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == '_' || r == '-' || r == '\t'
	})
	return strings.Join(words, "-")
}

// nearest gives up to n names a few letters away or with the word inside.
func (c Catalogue) nearest(key string, n int) []string {
	names := slices.Sorted(maps.Keys(c.index))
	far := func(name string) int {
		if key != "" && (strings.Contains(name, key) || strings.Contains(key, name)) {
			return 1
		}
		return distance(key, name)
	}
	sort.SliceStable(names, func(i, j int) bool { return far(names[i]) < far(names[j]) })
	return names[:min(n, len(names))]
}

// distance is Levenshtein's: letters to add, drop or change.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		above := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := above
			if a[i] != b[j] {
				change++
			}
			above = row[j+1]
			row[j+1] = min(change, row[j]+1, above+1)
		}
	}
	return row[len(b)]
}
