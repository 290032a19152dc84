package storetest

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// filled is base with every member set that it leaves zero, so that a member
// that a store does not keep shows. Members differ from each other, and all
// differ from those of another turn.
func filled[T any](turn int, base T) T {
	f := filler{turn: turn}
	f.fill(reflect.ValueOf(&base).Elem())
	return base
}

type filler struct{ turn, n int }

// next is a number that was not given before.
func (f *filler) next() int {
	f.n++
	return f.turn*1000 + f.n
}

func (f *filler) fill(v reflect.Value) {
	if !v.IsZero() && v.Kind() != reflect.Struct {
		return
	}
	switch v.Addr().Interface().(type) {
	case *time.Time, *weather.Forecast, *json.RawMessage, *farm.Kept:
		f.whole(v)
		return
	}
	if get := v.MethodByName("Get"); get.IsValid() {
		f.maybe(v, get.Type().Out(0))
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f.fill(v.Field(i))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		f.fill(v.Index(0))
		f.fill(v.Index(1))
	case reflect.Map:
		f.entry(v)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		f.fill(v.Elem())
	default:
		f.plain(v)
	}
}

// whole fills what is not the sum of its members.
func (f *filler) whole(v reflect.Value) {
	if !v.IsZero() {
		return
	}
	switch to := v.Addr().Interface().(type) {
	case *time.Time:
		*to = at(1, f.next())
	case *weather.Forecast:
		*to = weather.Forecast{Source: fmt.Sprint("source ", f.next()), Issued: at(1, f.next()), Elevation: unit.Some(1.0)}
	case *json.RawMessage:
		*to = json.RawMessage(fmt.Sprintf(`{"n":  %d, "é": "<"}`, f.next())) // byte for byte
	case *farm.Kept:
		var judged farm.Verdict
		f.fill(reflect.ValueOf(&judged).Elem())
		*to = farm.Keep(judged)
	}
}

// maybe fills a value that may be missing, whose parts nobody else may set.
func (f *filler) maybe(v reflect.Value, holds reflect.Type) {
	if !v.IsZero() {
		return
	}
	inner := reflect.New(holds)
	f.fill(inner.Elem())
	body, err := json.Marshal(inner.Interface())
	if err == nil {
		err = json.Unmarshal(body, v.Addr().Interface())
	}
	if err != nil {
		panic(fmt.Sprintf("%s: %v", v.Type(), err)) // a type that needs a case of its own
	}
}

func (f *filler) entry(v reflect.Value) {
	v.Set(reflect.MakeMap(v.Type()))
	key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
	f.fill(key)
	f.fill(value)
	v.SetMapIndex(key, value)
}

func (f *filler) plain(v reflect.Value) {
	n := f.next()
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprintf("%s %d Ü", strings.ToLower(v.Type().Name()), n))
	case reflect.Bool:
		v.SetBool(f.turn%2 == 1)
	case reflect.Float64:
		v.SetFloat(float64(n) + 0.25)
	case reflect.Uint8:
		v.SetUint(uint64(n % 256))
	case reflect.Int64:
		if v.Type() == reflect.TypeFor[time.Duration]() {
			n *= int(time.Second)
		}
		v.SetInt(int64(n))
	case reflect.Int:
		v.SetInt(int64(n))
	default:
		panic(fmt.Sprintf("%s: a member of this kind needs a case of its own", v.Type()))
	}
}
