// Package phrase holds every sentence the product says, one file a language.
// A translation is a file: copy en.toml, translate the right-hand sides, keep
// what stands in braces.
package phrase

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

//go:embed *.toml
var files embed.FS

// Fallback is the language used where another has no such phrase.
const Fallback = "en"

// Book is all languages.
type Book struct {
	languages map[string]map[string]string
}

// Args fill the braces of a phrase by name.
type Args map[string]string

var brace = regexp.MustCompile(`\{([a-z_]+)\}`)

// Load reads the embedded languages.
func Load() (*Book, error) { return Read(files) }

// Read takes every file of a folder for a language. It fails when one lacks a
// phrase of the fallback, has one too many, or names another brace.
func Read(from fs.FS) (*Book, error) {
	names, err := fs.ReadDir(from, ".")
	if err != nil {
		return nil, fmt.Errorf("list phrases: %w", err)
	}
	b := &Book{languages: map[string]map[string]string{}}
	for _, n := range names {
		phrases, err := read(from, n.Name())
		if err != nil {
			return nil, err
		}
		b.languages[strings.TrimSuffix(n.Name(), path.Ext(n.Name()))] = phrases
	}
	return b, b.check()
}

// MustLoad is Load for the embedded files, which a test has checked.
func MustLoad() *Book {
	b, err := Load()
	if err != nil {
		panic(err)
	}
	return b
}

func read(from fs.FS, name string) (map[string]string, error) {
	src, err := fs.ReadFile(from, name)
	if err != nil {
		return nil, fmt.Errorf("read phrases: %w", err)
	}
	var sections map[string]map[string]string
	if err := toml.Unmarshal(src, &sections); err != nil {
		return nil, fmt.Errorf("phrases %s: %w", name, err)
	}
	flat := map[string]string{}
	for section, phrases := range sections {
		for key, text := range phrases {
			flat[section+"."+key] = text
		}
	}
	return flat, nil
}

func (b *Book) check() error {
	base := b.languages[Fallback]
	for lang, phrases := range b.languages {
		for key, text := range base {
			other, ok := phrases[key]
			if !ok {
				return fmt.Errorf("phrases %s.toml: %q is missing", lang, key)
			}
			if got, want := Braces(other), Braces(text); !slices.Equal(got, want) {
				return fmt.Errorf("phrases %s.toml: %q names %v, must name %v", lang, key, got, want)
			}
		}
		for key := range phrases {
			if _, ok := base[key]; !ok {
				return fmt.Errorf("phrases %s.toml: %q is not in %s.toml", lang, key, Fallback)
			}
		}
	}
	return nil
}

// Braces are the names a text asks for, sorted, each once.
func Braces(text string) []string {
	var names []string
	for _, m := range brace.FindAllStringSubmatch(text, -1) {
		names = append(names, m[1])
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// Languages that are there, sorted.
func (b *Book) Languages() []string {
	var ls []string
	for l := range b.languages {
		ls = append(ls, l)
	}
	slices.Sort(ls)
	return ls
}

// Say fills a phrase. An unknown key says itself in brackets, so that it is seen.
func (b *Book) Say(language, key string, args Args) string {
	text, ok := b.languages[language][key]
	if !ok {
		text, ok = b.languages[Fallback][key]
	}
	if !ok {
		return "[" + key + "]"
	}
	return brace.ReplaceAllStringFunc(text, func(m string) string {
		if v, ok := args[m[1:len(m)-1]]; ok {
			return v
		}
		return m
	})
}

// Has tells whether the fallback language has the phrase.
func (b *Book) Has(key string) bool { _, ok := b.languages[Fallback][key]; return ok }

// Section gives the English phrases of a section by their keys.
func (b *Book) Section(name string) map[string]string {
	out := map[string]string{}
	for key, text := range b.languages[Fallback] {
		if short, ok := strings.CutPrefix(key, name+"."); ok {
			out[short] = text
		}
	}
	return out
}
