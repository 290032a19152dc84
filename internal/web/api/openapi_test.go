package api

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"winterstand/internal/service/commands"
)

type object = map[string]any

func document(t *testing.T) (*world, object) {
	t.Helper()
	w := newWorld(t)
	r := w.do("GET", "/openapi.json", "", headers{"Authorization": ""}).is(200)
	assert.Equal(t, "application/openapi+json", r.header.Get("Content-Type"))
	return w, read[object](r)
}

// Every address of the contract is there.
func TestTheDocumentNamesEveryAddress(t *testing.T) {
	_, doc := document(t)
	paths := doc["paths"].(object)
	for _, want := range []string{
		"GET /v1/farm", "PATCH /v1/farm", "GET /v1/beds/{id}/outlook", "POST /v1/beds/{id}/what-if", "POST /v1/recipients/{id}/test",
		"GET /v1/notices", "POST /v1/notices/{id}/answers", "POST /v1/readings", "POST /v1/findings", "GET /v1/plan", "GET /v1/supply", "GET /v1/crops",
		"GET /v1/skill", "POST /v1/import", "GET /v1/supply.csv", "GET /v1/stores", "GET /v1/season", "POST /v1/season",
	} {
		method, path, _ := strings.Cut(want, " ")
		require.Contains(t, paths, path)
		assert.Contains(t, paths[path], strings.ToLower(method), want)
	}
	for _, noun := range []string{"fields", "beds", "recipients", "rooms", "lots"} {
		list, entry := paths["/v1/"+noun].(object), paths["/v1/"+noun+"/{id}"].(object)
		assert.Contains(t, list, "get", noun)
		assert.Contains(t, list, "post", noun)
		for _, method := range []string{"get", "patch", "delete"} {
			assert.Contains(t, entry, method, noun)
		}
	}
}

var templated = regexp.MustCompile(`\{(\w+)\}`)

// The rules of OpenAPI 3.1.0 that a reader of the document relies on: unique
// operationId, a parameter for every part of a path in braces, at least one
// response, references that lead somewhere, required members that exist
// (specification 3.1.0, §4.8.9, 4.8.10, 4.8.12, 4.8.16; from memory).
func TestTheDocumentIsSound(t *testing.T) {
	_, doc := document(t)
	assert.Equal(t, "3.1.0", doc["openapi"])
	assert.NotEmpty(t, doc["info"].(object)["title"])
	assert.NotEmpty(t, doc["info"].(object)["version"])
	seen := map[string]bool{}
	for path, item := range doc["paths"].(object) {
		for method, o := range item.(object) {
			operation := o.(object)
			id := operation["operationId"].(string)
			assert.False(t, seen[id], id)
			seen[id] = true
			assert.Equal(t, []any{object{"token": []any{}}}, operation["security"], id)
			assert.Equal(t, templated.FindAllString(path, -1), inPath(operation), "%s %s", method, path)
			assert.Equal(t, method == "post", hasParameter(operation, "Idempotency-Key") || id == "bed-what-if", id)
			assert.Equal(t, method == "patch" || method == "delete", hasParameter(operation, "If-Match"), id)
			soundResponses(t, id, operation["responses"].(object))
			assert.Contains(t, operation["responses"], goodStatus(method, id), id)
		}
	}
	soundParts(t, doc, doc, "#")
}

func goodStatus(method, id string) string {
	if own, ok := map[string]string{"bed-what-if": "200", "test-recipient": "202"}[id]; ok {
		return own
	}
	return map[string]string{"get": "200", "patch": "200", "delete": "204", "post": "201"}[method]
}

func inPath(operation object) (names []string) {
	parameters, _ := operation["parameters"].([]any)
	for _, p := range parameters {
		if p.(object)["in"] == "path" && p.(object)["required"] == true {
			names = append(names, "{"+p.(object)["name"].(string)+"}")
		}
	}
	return names
}

func hasParameter(operation object, name string) bool {
	parameters, _ := operation["parameters"].([]any)
	for _, p := range parameters {
		if p.(object)["name"] == name {
			return true
		}
	}
	return false
}

func soundResponses(t *testing.T, id string, responses object) {
	t.Helper()
	good := 0
	for status, r := range responses {
		assert.NotEmpty(t, r.(object)["description"], "%s %s", id, status)
		if strings.HasPrefix(status, "2") {
			good++
			continue
		}
		assert.Contains(t, r.(object)["content"], "application/problem+json", "%s %s", id, status)
	}
	assert.Equal(t, 1, good, id)
	assert.Contains(t, responses, "401", id)
}

// soundParts walks the whole document.
func soundParts(t *testing.T, doc object, part any, at string) {
	t.Helper()
	switch p := part.(type) {
	case []any:
		for _, e := range p {
			soundParts(t, doc, e, at+"[]")
		}
	case object:
		if ref, ok := p["$ref"].(string); ok {
			assert.NotNil(t, follow(doc, ref), "%s: %s leads nowhere", at, ref)
		}
		members, _ := p["properties"].(object)
		required, _ := p["required"].([]any)
		for _, name := range required {
			if members != nil {
				assert.Contains(t, members, name, at)
			}
		}
		for name, e := range p {
			soundParts(t, doc, e, at+"/"+name)
		}
	}
}

func follow(doc object, ref string) any {
	var at any = doc
	for _, step := range strings.Split(strings.TrimPrefix(ref, "#/"), "/") {
		o, ok := at.(object)
		if !ok {
			return nil
		}
		at = o[step]
	}
	return at
}

// Every limit and every word that the commands checks stands in the document.
func TestTheDocumentShowsTheLimits(t *testing.T) {
	_, doc := document(t)
	schemas := doc["components"].(object)["schemas"].(object)
	shown := map[string]bool{}
	for name, noun := range inputs {
		require.Contains(t, schemas, name)
		for member, m := range schemas[name].(object)["properties"].(object) {
			key := noun + "." + member
			if other, ok := borrowed[key]; ok {
				key = other
			}
			shown[key] = true
			r, limited := commands.Limits[key]
			if limited && r.OpenMin {
				assert.Equal(t, r.Min, m.(object)["exclusiveMinimum"], key)
			} else if limited {
				assert.Equal(t, r.Min, m.(object)["minimum"], key)
			}
		}
	}
	for key := range commands.Limits {
		assert.True(t, shown[key] || strings.HasPrefix(key, "reading."), "no member shows the limits of %s", key)
	}
	for key := range commands.Choices {
		assert.True(t, shown[key] || key == "token.scope", "no member shows the words of %s", key)
	}
	bed := schemas["NewBed"].(object)
	assert.Equal(t, []any{"crop", "field_id", "name"}, bed["required"])
	assert.Contains(t, bed["properties"].(object)["purpose"].(object)["enum"], "overwinter")
	assert.NotContains(t, schemas["BedInput"].(object), "required")
}

// The page needs nothing from elsewhere and no script, and shows every route.
func TestTheDocumentationPage(t *testing.T) {
	w, doc := document(t)
	r := w.do("GET", "/docs", "", headers{"Authorization": ""}).is(200)
	page, err := html.Parse(strings.NewReader(string(r.body)))
	require.NoError(t, err)
	ids := map[string]bool{}
	var links []string
	for n := range page.Descendants() {
		assert.NotContains(t, []string{"script", "link", "img", "iframe"}, n.Data)
		for _, a := range n.Attr {
			switch a.Key {
			case "id":
				assert.False(t, ids[a.Val], "twice: %s", a.Val)
				ids[a.Val] = true
			case "href":
				links = append(links, a.Val)
			}
		}
	}
	for _, l := range links {
		assert.True(t, l == "/openapi.json" || ids[strings.TrimPrefix(l, "#")], "%s leads nowhere", l)
	}
	for path, item := range doc["paths"].(object) {
		assert.Contains(t, string(r.body), path)
		for _, o := range item.(object) {
			assert.True(t, ids[o.(object)["operationId"].(string)])
		}
	}
	assert.Contains(t, r.header.Get("Content-Security-Policy"), "default-src 'none'")
}

// What the interface answers has the form its document promises, in the
// members' names: none is sent that is not described.
func TestAnswersKeepToTheDocument(t *testing.T) {
	w, doc := document(t)
	bed := w.bed()
	w.verdict(bed, sample())
	schemas := doc["components"].(object)["schemas"].(object)
	for path, name := range map[string]string{"/v1/farm": "Farm", "/v1/beds/" + str(bed.ID): "Bed", "/v1/fields/" + str(bed.FieldID): "Field"} {
		var got object
		require.NoError(t, json.Unmarshal(w.do("GET", path, "").is(200).body, &got))
		described(t, schemas, schemas[name].(object), got, name)
	}
}

func described(t *testing.T, schemas, schema object, got any, at string) {
	t.Helper()
	if ref, ok := schema["$ref"].(string); ok {
		schema = schemas[ref[strings.LastIndex(ref, "/")+1:]].(object)
	}
	o, ok := got.(object)
	if !ok {
		return
	}
	for _, name := range list(schema["required"]) {
		assert.Contains(t, o, name, at)
	}
	for name, v := range o {
		member, ok := schema["properties"].(object)[name].(object)
		if assert.True(t, ok, "%s.%s is not described", at, name) {
			described(t, schemas, member, v, at+"."+name)
		}
	}
}

func list(v any) []any {
	l, _ := v.([]any)
	return l
}
