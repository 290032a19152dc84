package row

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// thing has a member of every kind that can be refused.
type thing struct {
	id    int64
	air   float64
	name  string
	kg    unit.Maybe[float64]
	list  []float64
	facts json.RawMessage
}

var things = Of("thing", "name", func(t *thing) []Column {
	return []Column{
		Whole("id", &t.id).Given(),
		Number("air_c", &t.air),
		Text("name", &t.name).Fixed(),
		MaybeNumber("kg", &t.kg),
		Nested("list", &t.list),
		Document("facts", &t.facts),
	}
})

func TestValuesNameEveryRefusal(t *testing.T) {
	vs, err := things.Added(thing{id: 7, air: 1.5, name: "x"})
	require.NoError(t, err)
	require.Equal(t, []any{1.5, "x", nil, "null", nil}, vs)
	vs, err = things.Changed(thing{id: 7, air: 1.5, name: "x", kg: unit.Some(2.0), facts: json.RawMessage(`{"a": 1}`)})
	require.NoError(t, err)
	require.Equal(t, []any{1.5, 2.0, "null", `{"a": 1}`}, vs)

	bad := thing{air: math.NaN(), name: "a\x00", kg: unit.Some(math.Inf(1)), list: []float64{math.NaN()}, facts: json.RawMessage(`{`)}
	_, err = things.Added(bad)
	require.EqualError(t, err, "air_c: must be a finite number, not NaN\n"+
		`name: must be UTF-8 text without NUL, not "a\x00"`+"\nkg: must be a finite number, not +Inf\n"+
		"list: json: unsupported value: NaN\nfacts: must be JSON, not \"{\"")
	_, err = things.Rows([]thing{{}, bad}, func(x thing) string { return "thing " + x.name })
	require.ErrorContains(t, err, "thing a\x00: air_c: must be")
}

func TestTableWritesTheLists(t *testing.T) {
	require.Equal(t, "SELECT id, air_c, name, kg, list, facts FROM thing WHERE id = ?1", things.Select("WHERE id = ?1"))
	require.Equal(t, "INSERT INTO thing (air_c, name, kg, list, facts) VALUES (?1, ?2, ?3, ?4, ?5) RETURNING id", things.Insert("RETURNING id"))
	require.Equal(t, "air_c = ?3, kg = ?4, list = ?5, facts = ?6", things.Set(2))
	require.Equal(t, "ON CONFLICT (name) DO NOTHING", things.Keep())
	require.Equal(t, "ON CONFLICT (name) DO UPDATE SET air_c = excluded.air_c, kg = excluded.kg, list = excluded.list, facts = excluded.facts", things.Replace())
}

func TestWrap(t *testing.T) {
	err := error(nil)
	Wrap(&err, "bed %d", 7)
	require.NoError(t, err)
	err = store.ErrNotFound
	Wrap(&err, "bed %d", 7)
	require.EqualError(t, err, "bed 7: not found")
	require.ErrorIs(t, err, store.ErrNotFound)
}

// What a driver gives is int64, float64, string, []byte, bool or nil (database/sql/driver.Value).
func TestScanDestinations(t *testing.T) {
	when := time.Date(2026, 11, 14, 22, 30, 0, 0, time.UTC)
	var at time.Time
	var maybeTime unit.Maybe[time.Time]
	var number unit.Maybe[unit.Celsius]
	var length time.Duration
	var id int64
	var document json.RawMessage
	var words string
	var list []string
	for _, c := range []struct {
		name string
		dest interface{ Scan(any) error }
		src  any
		is   func() any
		want any
	}{
		{"instant", instant{&at}, when.Unix(), func() any { return at }, when},
		{"no instant", instant{&at}, nil, func() any { return at }, time.Time{}},
		{"maybe instant", maybeAt{&maybeTime}, when.Unix(), func() any { return maybeTime }, unit.Some(when)},
		{"maybe no instant", maybeAt{&maybeTime}, nil, func() any { return maybeTime }, unit.None[time.Time]()},
		{"zero is a number", maybe[unit.Celsius]{&number}, 0.0, func() any { return number }, unit.Some(unit.Celsius(0))},
		{"missing is none", maybe[unit.Celsius]{&number}, nil, func() any { return number }, unit.None[unit.Celsius]()},
		{"duration", duration{&length}, int64(90), func() any { return length }, 90 * time.Second},
		{"reference", reference{&id}, int64(7), func() any { return id }, int64(7)},
		{"no reference", reference{&id}, nil, func() any { return id }, int64(0)},
		{"document", raw{&document}, `{"a": 1}`, func() any { return string(document) }, `{"a": 1}`},
		{"no document", raw{&document}, nil, func() any { return document }, json.RawMessage(nil)},
		{"text", orEmpty{&words}, "x", func() any { return words }, "x"},
		{"no text", orEmpty{&words}, nil, func() any { return words }, ""},
		{"list", nested[[]string]{&list}, []byte(`["a","b"]`), func() any { return list }, []string{"a", "b"}},
		{"empty list", nested[[]string]{&list}, `[]`, func() any { return list }, []string(nil)},
	} {
		require.NoError(t, c.dest.Scan(c.src), c.name)
		require.Equal(t, c.want, c.is(), c.name)
	}
	for name, err := range map[string]error{
		"instant":  instant{&at}.Scan("2026-11-14"),
		"number":   maybe[unit.Celsius]{&number}.Scan("cold"),
		"duration": duration{&length}.Scan("1h"),
		"list":     nested[[]string]{&list}.Scan(`{"a":1}`),
	} {
		require.Error(t, err, name)
	}
}

func TestInstantsCutFractionsDown(t *testing.T) {
	require.EqualValues(t, -1, Instant(time.Unix(-1, 500_000_000)))
	require.EqualValues(t, 1, Instant(time.Unix(1, 999_999_999)))
	none, err := AtOrNull("at", new(time.Time)).value()
	require.NoError(t, err)
	require.Nil(t, none)
}

func TestRankFollowsTheListOfOrigins(t *testing.T) {
	last := int64(-1)
	for _, o := range []weather.Origin{weather.Analysis, weather.Reanalysis, weather.Observation, weather.Import} {
		r, err := Rank(o)
		require.NoError(t, err)
		require.Greater(t, r, last, o)
		last = r
	}
	_, err := Rank("")
	require.ErrorContains(t, err, `origin "": must be one of`)
}

func drawForecast(r *rapid.T) weather.Forecast {
	value := rapid.Custom(func(r *rapid.T) unit.Maybe[float64] {
		if rapid.Bool().Draw(r, "known") {
			return unit.Some(rapid.Float64().Draw(r, "value"))
		}
		return unit.None[float64]()
	})
	course := rapid.SliceOfN(rapid.Custom(func(r *rapid.T) weather.Interval {
		start := time.Unix(rapid.Int64Range(0, 4e9).Draw(r, "start"), 0).UTC()
		return weather.Interval{Start: start, End: start.Add(time.Hour), Value: value.Draw(r, "v")}
	}), 1, 5)
	return weather.Forecast{
		Source: rapid.String().Draw(r, "source"), Latitude: rapid.Float64Range(-90, 90).Draw(r, "latitude"),
		Elevation: value.Draw(r, "elevation"), Issued: time.Unix(rapid.Int64Range(0, 4e9).Draw(r, "issued"), 0).UTC(),
		Layers: map[weather.Quantity][]weather.Interval{weather.Air: course.Draw(r, "air"), weather.Cloud: course.Draw(r, "cloud")},
	}
}

// A forecast comes back from its compressed form bit for bit.
func TestPackKeepsEveryBit(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		want := drawForecast(r)
		body, err := pack(want)
		require.NoError(t, err)
		var is weather.Forecast
		require.NoError(t, packed{&is}.Scan(body))
		require.Equal(t, want, is)
	})
}

func TestPackRefusesByName(t *testing.T) {
	f := weather.Forecast{Layers: map[weather.Quantity][]weather.Interval{weather.Wind: {{Start: time.Unix(0, 0), Value: unit.Some(math.NaN())}}}}
	_, err := pack(f)
	require.EqualError(t, err, "layer wind at 1970-01-01T00:00:00Z: must be a finite number, not NaN")
	_, err = pack(weather.Forecast{Latitude: math.NaN()})
	require.Error(t, err)
	require.ErrorContains(t, packed{new(weather.Forecast)}.Scan("text"), "must be bytes, not string")
}

func FuzzUnpack(f *testing.F) {
	whole, err := pack(weather.Forecast{Source: "nws"})
	require.NoError(f, err)
	body := whole.([]byte)
	f.Add(body)
	f.Add(body[:len(body)/2])
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, body []byte) {
		if is, err := unpack(body); err == nil {
			_, err := pack(is)
			require.NoError(t, err, "what was read can be written")
		}
	})
}

func FuzzNested(f *testing.F) {
	for _, s := range []string{`[{"kind":"x","on":"2026-01-01"}]`, `[]`, `null`, `{`, ``} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var once, again []map[string]any
		if err := (nested[[]map[string]any]{&once}).Scan(s); err != nil {
			return
		}
		written, err := nestedText(once)
		require.NoError(t, err, "what was read can be written")
		require.NoError(t, (nested[[]map[string]any]{&again}).Scan(written))
		if len(once) > 0 {
			require.Equal(t, once, again)
		}
	})
}
