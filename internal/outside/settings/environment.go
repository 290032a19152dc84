package settings

import (
	"fmt"
	"net/url"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

const prefix = "WINTERSTAND_"

// reserved names of the environment that are not settings.
var reserved = []string{"WINTERSTAND_NOW", "WINTERSTAND_CORPUS", "WINTERSTAND_REQUIRE_POSTGRES", "WINTERSTAND_REQUIRE_BROWSER", "WINTERSTAND_REQUIRE_NPM", "WINTERSTAND_SCREENSHOTS", "WINTERSTAND_CRASHES"}

// key is one setting reached by reflection.
type key struct {
	path   string // forecast.nws.base_url
	value  reflect.Value
	secret bool
}

func (k key) variable() string {
	return prefix + strings.ToUpper(strings.ReplaceAll(k.path, ".", "_"))
}

// keys lists every setting of a struct, depth first.
func keys(path string, v reflect.Value) []key {
	var ks []key
	for i := range v.NumField() {
		f := v.Type().Field(i)
		name := f.Tag.Get("toml")
		if path != "" {
			name = path + "." + name
		}
		if f.Type.Kind() == reflect.Struct {
			ks = append(ks, keys(name, v.Field(i))...)
			continue
		}
		ks = append(ks, key{path: name, value: v.Field(i), secret: f.Tag.Get("secret") == "true"})
	}
	return ks
}

// fromEnvironment overrides settings by WINTERSTAND_SECTION_KEY; a secret may
// instead be read from the file that WINTERSTAND_SECTION_KEY_FILE names.
func fromEnvironment(s *Settings, environ []string) error {
	byName := map[string]key{}
	for _, k := range keys("", reflect.ValueOf(s).Elem()) {
		byName[k.variable()] = k
	}
	for _, kv := range environ {
		name, text, _ := strings.Cut(kv, "=")
		if !strings.HasPrefix(name, prefix) || slices.Contains(reserved, name) {
			continue
		}
		if err := override(byName, name, text); err != nil {
			return err
		}
	}
	return nil
}

func override(byName map[string]key, name, text string) error {
	k, ok := byName[name]
	if base, isFile := strings.CutSuffix(name, "_FILE"); !ok && isFile {
		if k, ok = byName[base]; ok && k.secret {
			b, err := os.ReadFile(text)
			if err != nil {
				return fmt.Errorf("environment %s: %w", name, err)
			}
			text = strings.TrimRight(string(b), "\r\n")
		}
	}
	if !ok {
		return fmt.Errorf("environment %s: no such setting", name)
	}
	if err := set(k.value, text); err != nil {
		return fmt.Errorf("environment %s: %w", name, err)
	}
	return nil
}

func set(v reflect.Value, text string) error {
	switch v.Kind() {
	case reflect.String:
		v.SetString(text)
	case reflect.Int:
		n, err := strconv.Atoi(text)
		if err != nil {
			return fmt.Errorf("%q must be a whole number", text)
		}
		v.SetInt(int64(n))
	case reflect.Slice:
		var parts []string
		for _, p := range strings.Split(text, ",") {
			parts = append(parts, strings.TrimSpace(p))
		}
		v.Set(reflect.ValueOf(parts))
	case reflect.Map:
		m := map[string]string{}
		for _, line := range strings.Split(text, "\n") {
			name, value, ok := strings.Cut(line, ":")
			if !ok {
				return fmt.Errorf("%q must be lines of Name: value", line)
			}
			m[strings.TrimSpace(name)] = strings.TrimSpace(value)
		}
		v.Set(reflect.ValueOf(m))
	default:
		return fmt.Errorf("a %s cannot be set from the environment", v.Kind())
	}
	return nil
}

// Print lists the effective settings, one a line, secrets hidden.
func (s Settings) Print() []string {
	var lines []string
	for _, k := range keys("", reflect.ValueOf(&s).Elem()) {
		v := fmt.Sprint(k.value.Interface())
		switch {
		case k.path == "database":
			v = hideURL(v)
		case k.secret && k.value.Len() > 0:
			v = "(hidden)"
		}
		lines = append(lines, k.path+" = "+v)
	}
	return lines
}

// hideURL takes the password out of an address.
func hideURL(v string) string {
	u, err := url.Parse(v)
	if err != nil || u.User == nil {
		return v
	}
	return u.Redacted()
}
