package row

import (
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

func TestValuesNameEveryRefusal(t *testing.T) {
	vs, err := values(int64(1), number("air_c", 1.5), text("name", "x"), maybeNumber("kg", unit.None[float64]()))
	require.NoError(t, err)
	require.Equal(t, []any{int64(1), 1.5, "x", nil}, vs)

	_, err = values(number("air_c", math.NaN()), text("name", "a\x00"), maybeNumber("kg", unit.Some(math.Inf(1))))
	require.EqualError(t, err, "air_c: must be a finite number, not NaN\n"+
		`name: must be UTF-8 text without NUL, not "a\x00"`+"\nkg: must be a finite number, not +Inf")
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
		{"zero is a number", maybeOf(&number), 0.0, func() any { return number }, unit.Some(unit.Celsius(0))},
		{"missing is none", maybeOf(&number), nil, func() any { return number }, unit.None[unit.Celsius]()},
		{"duration", duration{&length}, int64(90), func() any { return length }, 90 * time.Second},
		{"reference", reference{&id}, int64(7), func() any { return id }, int64(7)},
		{"no reference", reference{&id}, nil, func() any { return id }, int64(0)},
		{"document", raw{&document}, `{"a": 1}`, func() any { return string(document) }, `{"a": 1}`},
		{"no document", raw{&document}, nil, func() any { return document }, json.RawMessage(nil)},
		{"text", orEmpty{&words}, "x", func() any { return words }, "x"},
		{"no text", orEmpty{&words}, nil, func() any { return words }, ""},
		{"list", nestedOf(&list), []byte(`["a","b"]`), func() any { return list }, []string{"a", "b"}},
		{"empty list", nestedOf(&list), `[]`, func() any { return list }, []string(nil)},
	} {
		require.NoError(t, c.dest.Scan(c.src), c.name)
		require.Equal(t, c.want, c.is(), c.name)
	}
	for name, err := range map[string]error{
		"instant":  instant{&at}.Scan("2026-11-14"),
		"number":   maybeOf(&number).Scan("cold"),
		"duration": duration{&length}.Scan("1h"),
		"list":     nestedOf(&list).Scan(`{"a":1}`),
	} {
		require.Error(t, err, name)
	}
}

func TestInstantsCutFractionsDown(t *testing.T) {
	require.EqualValues(t, -1, Instant(time.Unix(-1, 500_000_000)))
	require.EqualValues(t, 1, Instant(time.Unix(1, 999_999_999)))
	require.Nil(t, instantOrNull(time.Time{}))
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

func TestBulkRowsAreSortedAndUnique(t *testing.T) {
	hour := func(h int, air unit.Celsius) weather.Hour {
		return weather.Hour{At: time.Unix(int64(h)*3600, 0), Air: unit.Some(air)}
	}
	rows, err := HoursValues(3, weather.Import, []weather.Hour{hour(2, 1), hour(1, 2), hour(2, 3)})
	require.NoError(t, err)
	require.Len(t, rows, 2)
	require.Equal(t, []any{int64(3), int64(3600), int64(3), 2.0}, rows[0][:4])
	require.Equal(t, []any{int64(3), int64(7200), int64(3), 3.0}, rows[1][:4], "the last of an hour counts")

	js, err := JudgementsValues([]store.Judgement{{BedID: 10, LeadDays: 1}, {BedID: 9, LeadDays: 12}, {BedID: 9, LeadDays: 2, Likelihood: 0.5}, {BedID: 9, LeadDays: 2}})
	require.NoError(t, err)
	require.Len(t, js, 3)
	require.EqualValues(t, []any{int64(9), int64(2), 0.5}, []any{js[0][1], js[0][4], js[0][6]}, "the first of a night counts")
	require.EqualValues(t, []any{int64(9), int64(12)}, []any{js[1][1], js[1][4]})
	require.EqualValues(t, 10, js[2][1])

	vs, err := VerdictsValues([]store.Verdict{kept(2, farm.Holds), kept(1, farm.Holds), kept(1, farm.TooLate)})
	require.NoError(t, err)
	require.Len(t, vs, 2)
	require.Equal(t, "too_late", vs[0][3])
}

func kept(bedID int64, s farm.State) store.Verdict {
	return store.Verdict{BedID: bedID, Kept: farm.Keep(farm.Verdict{State: s})}
}

func TestCheckJobs(t *testing.T) {
	require.NoError(t, CheckJobs(nil))
	require.NoError(t, CheckJobs([]store.Job{{MessageID: 1}, {CellID: 1}, {FieldID: 1, At: time.Unix(1, 0)}}))
	for _, j := range []store.Job{{}, {At: time.Unix(1, 0)}, {MessageID: 1, CellID: 1}, {CellID: 1, FieldID: 2}} {
		require.ErrorContains(t, CheckJobs([]store.Job{{CellID: 1}, j}), "must name exactly one")
	}
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
		body, ok := pack(want).([]byte)
		require.True(t, ok)
		is, err := unpack(body)
		require.NoError(t, err)
		require.Equal(t, want, is)
	})
}

func TestPackRefusesByName(t *testing.T) {
	f := weather.Forecast{Layers: map[weather.Quantity][]weather.Interval{weather.Wind: {{Start: time.Unix(0, 0), Value: unit.Some(math.NaN())}}}}
	err, _ := pack(f).(error)
	require.EqualError(t, err, "body: layer wind at 1970-01-01T00:00:00Z: must be a finite number, not NaN")
	err, _ = pack(weather.Forecast{Latitude: math.NaN()}).(error)
	require.ErrorContains(t, err, "body: ")
}

func FuzzUnpack(f *testing.F) {
	body, ok := pack(weather.Forecast{Source: "nws"}).([]byte)
	require.True(f, ok)
	f.Add(body)
	f.Add(body[:len(body)/2])
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, body []byte) {
		if is, err := unpack(body); err == nil {
			_, ok := pack(is).([]byte)
			require.True(t, ok, "what was read can be written")
		}
	})
}

func FuzzNested(f *testing.F) {
	for _, s := range []string{`[{"kind":"x","on":"2026-01-01"}]`, `[]`, `null`, `{`, ``} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var once, again []map[string]any
		if nestedOf(&once).Scan(s) != nil {
			return
		}
		written, ok := list("x", once).(string)
		if !ok {
			t.Fatal(errors.New("what was read cannot be written"))
		}
		require.NoError(t, nestedOf(&again).Scan(written))
		if len(once) > 0 {
			require.Equal(t, once, again)
		}
	})
}
