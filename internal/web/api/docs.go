package api

import (
	"encoding/json"
	"fmt"
	"slices"
	"sort"
	"strings"

	"github.com/danielgtaylor/huma/v2"
)

// docs is what the documentation page shows.
type docs struct {
	Title, Version, About string
	Groups                []docGroup
	Schemas               []docSchema
}

type docGroup struct {
	Name       string
	Operations []docOperation
}

type docOperation struct {
	ID, Method, Path, Summary, About string
	Parameters                       []docMember
	Takes, Gives                     *docForm
	Answers                          []string
}

// docForm is what goes over the wire: a form described below, or a media type.
type docForm struct {
	Name      string
	Described bool
}

type docSchema struct {
	Name    string
	Members []docMember
}

type docMember struct {
	Name, Kind, Where, About string
	Required                 bool
}

// published is the part of the finished document that the page reads.
type published struct {
	Components struct {
		Schemas map[string]publishedSchema `json:"schemas"`
	} `json:"components"`
}

type publishedSchema struct {
	Ref         string                     `json:"$ref"`
	Type        any                        `json:"type"`
	Format      string                     `json:"format"`
	Description string                     `json:"description"`
	Enum        []any                      `json:"enum"`
	Minimum     *float64                   `json:"minimum"`
	Maximum     *float64                   `json:"maximum"`
	Above       *float64                   `json:"exclusiveMinimum"`
	Below       *float64                   `json:"exclusiveMaximum"`
	Required    []string                   `json:"required"`
	Items       *publishedSchema           `json:"items"`
	Properties  map[string]publishedSchema `json:"properties"`
}

func docsView(o *huma.OpenAPI, doc []byte) (docs, error) {
	var p published
	if err := json.Unmarshal(doc, &p); err != nil {
		return docs{}, fmt.Errorf("read OpenAPI document: %w", err)
	}
	d := docs{Title: o.Info.Title, Version: o.Info.Version, About: o.Info.Description}
	for path, item := range o.Paths {
		for _, operation := range []*huma.Operation{item.Get, item.Post, item.Patch, item.Delete} {
			if operation != nil {
				d.add(path, operation)
			}
		}
	}
	d.sort()
	for _, name := range sortedKeys(p.Components.Schemas) {
		d.Schemas = append(d.Schemas, schemaOf(name, p.Components.Schemas[name]))
	}
	return d, nil
}

func (d *docs) add(path string, o *huma.Operation) {
	view := docOperation{ID: o.OperationID, Method: o.Method, Path: path, Summary: o.Summary, About: o.Description}
	for _, p := range o.Parameters {
		view.Parameters = append(view.Parameters, docMember{Name: p.Name, Where: p.In, About: p.Description, Required: p.Required})
	}
	if o.RequestBody != nil {
		view.Takes = contentOf(o.RequestBody.Content)
	}
	for _, status := range sortedKeys(o.Responses) {
		view.Answers = append(view.Answers, status)
		if strings.HasPrefix(status, "2") {
			view.Gives = contentOf(o.Responses[status].Content)
		}
	}
	i := slices.IndexFunc(d.Groups, func(g docGroup) bool { return g.Name == o.Tags[0] })
	if i < 0 {
		d.Groups, i = append(d.Groups, docGroup{Name: o.Tags[0]}), len(d.Groups)
	}
	d.Groups[i].Operations = append(d.Groups[i].Operations, view)
}

func (d *docs) sort() {
	sort.Slice(d.Groups, func(i, j int) bool { return d.Groups[i].Name < d.Groups[j].Name })
	order := map[string]int{"GET": 0, "POST": 1, "PATCH": 2, "DELETE": 3}
	for _, g := range d.Groups {
		sort.Slice(g.Operations, func(i, j int) bool {
			a, b := g.Operations[i], g.Operations[j]
			if a.Path != b.Path {
				return a.Path < b.Path
			}
			return order[a.Method] < order[b.Method]
		})
	}
}

func contentOf(content map[string]*huma.MediaType) *docForm {
	for kind, media := range content {
		if media.Schema != nil && media.Schema.Ref != "" {
			return &docForm{nameOf(media.Schema.Ref), true}
		}
		return &docForm{Name: kind}
	}
	return nil
}

func nameOf(ref string) string { return ref[strings.LastIndexByte(ref, '/')+1:] }

func schemaOf(name string, s publishedSchema) docSchema {
	out := docSchema{Name: name}
	for _, member := range sortedKeys(s.Properties) {
		m := s.Properties[member]
		out.Members = append(out.Members, docMember{
			Name: member, Kind: m.kind(), About: m.Description, Required: slices.Contains(s.Required, member),
		})
	}
	return out
}

// kind says in a few words what a member may be.
func (s publishedSchema) kind() string {
	switch {
	case s.Ref != "":
		return nameOf(s.Ref)
	case s.Items != nil:
		return "list of " + s.Items.kind()
	case len(s.Enum) > 0:
		return s.words()
	}
	return strings.TrimSpace(s.typeName() + " " + s.span())
}

func (s publishedSchema) words() string {
	var list []string
	for _, w := range s.Enum {
		if w != nil {
			list = append(list, fmt.Sprint(w))
		}
	}
	return strings.Join(list, " | ")
}

func (s publishedSchema) typeName() string {
	name := fmt.Sprint(s.Type)
	if list, ok := s.Type.([]any); ok && len(list) > 0 {
		name = fmt.Sprint(list[0])
	}
	switch s.Format {
	case "date", "date-time":
		return s.Format
	}
	return name
}

func (s publishedSchema) span() string {
	var parts []string
	for _, b := range []struct {
		word  string
		value *float64
	}{{"≥", s.Minimum}, {">", s.Above}, {"≤", s.Maximum}, {"<", s.Below}} {
		if b.value != nil {
			parts = append(parts, fmt.Sprintf("%s %g", b.word, *b.value))
		}
	}
	return strings.Join(parts, ", ")
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
