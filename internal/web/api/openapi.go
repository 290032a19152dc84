package api

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"html/template"
	"net/http"
	"reflect"
	"slices"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/science/skill"
	"winterstand/internal/service/commands"
	"winterstand/internal/storage/supply"
	"winterstand/internal/unit"
)

const about = `Harvest-before notices for beds that stand into the winter. Quantities are SI with their unit in the name; times are RFC 3339, ` +
	`days are of the field's own zone, a night is named by the evening on which it begins. What is missing is left out or null, never zero. ` +
	`Every entry has a version: it is the ETag of a GET, and a change that sends it in If-Match is refused (412) when the entry has changed since. ` +
	`A POST with an Idempotency-Key can be sent again safely.`

func config(version string) huma.Config {
	registry := huma.NewMapRegistry("#/components/schemas/", schemaName)
	aliases(registry)
	return huma.Config{
		OpenAPI: &huma.OpenAPI{
			OpenAPI: "3.1.0",
			Info:    &huma.Info{Title: "winterstand", Version: version, Description: about},
			Components: &huma.Components{
				Schemas: registry,
				SecuritySchemes: map[string]*huma.SecurityScheme{
					"token": {Type: "http", Scheme: "bearer", Description: "A token of one farm, made by `winterstand token`; scope read or write"},
				},
			},
		},
		Formats:       huma.DefaultFormats,
		DefaultFormat: "application/json",
	}
}

// schemaName keeps apart what two packages call by one name.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	switch t.PkgPath() {
	case reflect.TypeFor[supply.Result]().PkgPath():
		return "Supply" + name
	case reflect.TypeFor[skill.Report]().PkgPath():
		return "Skill" + name
	}
	return name
}

// aliases tells the registry that a value that may be missing looks, in JSON,
// like the value or null.
func aliases(r huma.Registry) {
	maybe[string](r)
	maybe[float64](r)
	maybe[int64](r)
	maybe[bool](r)
	maybe[time.Time](r)
	maybe[farm.Day](r)
	maybe[unit.Celsius](r)
	maybe[unit.Kelvins](r)
	maybe[farm.Window](r)
	maybe[[]string](r)
	maybe[[]farm.Shift](r)
	maybe[[]farm.Want](r)
	maybe[[]farm.Cover](r)
}

func maybe[T any](r huma.Registry) {
	pointer := reflect.TypeFor[*T]()
	r.RegisterTypeAlias(reflect.TypeFor[unit.Maybe[T]](), pointer)
	r.RegisterTypeAlias(reflect.TypeFor[commands.Optional[T]](), pointer)
}

// documents serves the OpenAPI document and a page made from it.
func (s *service) documents(r chi.Router) {
	doc, err := s.document()
	if err != nil {
		panic("api: " + err.Error()) // made of constants: a mistake in this package
	}
	r.Get("/openapi.json", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/openapi+json")
		_, _ = w.Write(doc)
	})
	page, err := docsPage(s.api.OpenAPI(), doc)
	if err != nil {
		panic("api: " + err.Error())
	}
	r.Get("/docs", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		_, _ = w.Write(page)
	})
}

// inputs are the schemas that the commands checks, by the noun of its tables.
var inputs = map[string]string{
	"FarmInput": "farm", "FieldInput": "field", "NewField": "field", "BedInput": "bed", "NewBed": "bed",
	"RecipientInput": "recipient", "NewRecipient": "recipient", "RoomInput": "room", "NewRoom": "room",
	"LotInput": "lot", "NewLot": "lot", "NewReading": "reading", "NewFinding": "finding", "AnswerInput": "answer",
	"WhatIfInput": "whatif", "Shift": "shift", "Want": "want", "Cover": "cover",
}

// borrowed are members whose words are listed under another noun.
var borrowed = map[string]string{
	"recipient.language": "farm.language", "recipient.units": "farm.units", "answer.cover": "cover.kind",
	"whatif.cover": "cover.kind", "answer.container": "lot.container",
}

// document is the OpenAPI document with the commands' limits written into it. The
// commands alone check them, so that a wrong value is told in its words.
func (s *service) document() ([]byte, error) {
	raw, err := json.Marshal(s.api.OpenAPI())
	if err != nil {
		return nil, err
	}
	var doc map[string]any
	if err := json.Unmarshal(raw, &doc); err != nil {
		return nil, err
	}
	schemas := doc["components"].(map[string]any)["schemas"].(map[string]any)
	for name, noun := range inputs {
		schema, ok := schemas[name].(map[string]any)
		if ok {
			limit(schema, noun, name)
		}
	}
	return json.MarshalIndent(doc, "", " ")
}

func limit(schema map[string]any, noun, name string) {
	members, _ := schema["properties"].(map[string]any)
	for member, m := range members {
		key := noun + "." + member
		if other, ok := borrowed[key]; ok {
			key = other
		}
		bound(m.(map[string]any), key)
	}
	required := commands.Required[noun]
	if len(required) > 0 && (name[:3] == "New" || name == "AnswerInput") {
		schema["required"] = slices.Sorted(slices.Values(required))
	}
}

func bound(m map[string]any, key string) {
	if r, ok := commands.Limits[key]; ok {
		m[pick(r.OpenMin, "exclusiveMinimum", "minimum")] = r.Min
		m[pick(r.OpenMax, "exclusiveMaximum", "maximum")] = r.Max
	}
	words, ok := commands.Choices[key]
	if !ok {
		return
	}
	if items, list := m["items"].(map[string]any); list {
		items["enum"] = words
		return
	}
	m["enum"] = words
	if kinds, nullable := m["type"].([]any); nullable && slices.Contains(kinds, any("null")) {
		m["enum"] = append(slices.Clone(toAny(words)), nil)
	}
}

func toAny(words []string) []any {
	out := make([]any, len(words))
	for i, w := range words {
		out[i] = w
	}
	return out
}

func pick(yes bool, a, b string) string {
	if yes {
		return a
	}
	return b
}

//go:embed openapi/page.html.tmpl
var pageSource string

var pageTemplate = template.Must(template.New("docs").Parse(pageSource))

// docsPage shows the document as one page that needs no script.
func docsPage(o *huma.OpenAPI, doc []byte) ([]byte, error) {
	view, err := docsView(o, doc)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = pageTemplate.Execute(&b, view)
	return b.Bytes(), err
}
