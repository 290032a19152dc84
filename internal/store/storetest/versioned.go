package storetest

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// versioned checks what all nouns of a farm have in common: kept whole, listed
// by ID in pages, hidden from other farms, changed only by who saw the latest
// version, left out of lists when ended but still found.
type versioned[T any] struct {
	samples []T // of the farm of mine; all quantities set, and none set
	id      func(*T) *int64
	farm    func(*T) *int64
	version func(*T) *int64
	edit    func(*T)
	end     func(*T, unit.Maybe[time.Time])
	add     func(store.Writer, context.Context, T) (int64, error)
	get     func(store.Reader, context.Context, int64, int64) (T, error)
	list    func(store.Reader, context.Context, int64, store.Page) ([]T, error)
	update  func(store.Writer, context.Context, T) error
}

func (v versioned[T]) check(t *testing.T, b *book, mine, other int64) {
	kept := v.keepWhole(t, b, mine, other)
	v.checkPages(t, b, mine, other, kept)
	v.checkChange(t, b, mine, other, kept[0])
	v.checkEnd(t, b, mine, kept[1])
}

func (v versioned[T]) keepWhole(t *testing.T, b *book, mine, other int64) (kept []T) {
	for _, want := range v.samples {
		*v.id(&want) = added(t, b, v.add, want)
		*v.version(&want) = 1
		require.Equal(t, want, got(v.get(b.Reader, t.Context(), mine, *v.id(&want)))(t))
		_, err := v.get(b.Reader, t.Context(), other, *v.id(&want))
		require.ErrorIs(t, err, store.ErrNotFound, "another farm's")
		kept = append(kept, want)
	}
	_, err := v.get(b.Reader, t.Context(), mine, missing)
	require.ErrorIs(t, err, store.ErrNotFound)
	return kept
}

func (v versioned[T]) checkPages(t *testing.T, b *book, mine, other int64, kept []T) {
	ctx := t.Context()
	require.Equal(t, kept, got(v.list(b.Reader, ctx, mine, store.Page{}))(t))
	require.Equal(t, kept[:1], got(v.list(b.Reader, ctx, mine, store.Page{Limit: 1}))(t))
	require.Equal(t, kept[1:], got(v.list(b.Reader, ctx, mine, store.Page{After: *v.id(&kept[0])}))(t))
	require.Empty(t, got(v.list(b.Reader, ctx, other, store.Page{}))(t))
}

func (v versioned[T]) checkChange(t *testing.T, b *book, mine, other int64, seen T) {
	change := func(x T) error {
		return b.try(t, func(ctx context.Context, w store.Writer) error { return v.update(w, ctx, x) })
	}
	changed := seen
	v.edit(&changed)
	require.NotEqual(t, seen, changed)
	require.NoError(t, change(changed))
	require.ErrorIs(t, change(changed), store.ErrChanged, "the version seen is no longer the one stored")
	*v.version(&changed) = 2
	require.Equal(t, changed, got(v.get(b.Reader, t.Context(), mine, *v.id(&seen)))(t))

	foreign, absent := changed, changed
	*v.farm(&foreign) = other
	require.ErrorIs(t, change(foreign), store.ErrNotFound)
	*v.id(&absent) = missing
	require.ErrorIs(t, change(absent), store.ErrNotFound)
	require.Equal(t, changed, got(v.get(b.Reader, t.Context(), mine, *v.id(&seen)))(t))
}

func (v versioned[T]) checkEnd(t *testing.T, b *book, mine int64, x T) {
	ctx := t.Context()
	before := len(got(v.list(b.Reader, ctx, mine, store.Page{}))(t))
	v.end(&x, unit.Some(at(20, 0)))
	require.NoError(t, b.try(t, func(ctx context.Context, w store.Writer) error { return v.update(w, ctx, x) }))
	*v.version(&x) = 2
	require.Equal(t, x, got(v.get(b.Reader, ctx, mine, *v.id(&x)))(t))
	require.Len(t, got(v.list(b.Reader, ctx, mine, store.Page{}))(t), before-1)
}

func checkFields(t *testing.T, b *book) {
	mine := added(t, b, store.Writer.AddFarm, farm.New("mine", at(1, 0)))
	other := added(t, b, store.Writer.AddFarm, farm.New("other", at(1, 0)))
	full := farm.Field{FarmID: mine, Name: "low", Latitude: 46.25, Longitude: -92.125, Elevation: unit.Some(0.0),
		Soil: "peat", LowSpot: 1.5, TimeZone: "America/Chicago", CreatedAt: at(1, 2)}
	versioned[farm.Field]{
		samples: []farm.Field{full, {FarmID: mine, Name: "bare", CreatedAt: at(2, 0)}},
		id:      func(f *farm.Field) *int64 { return &f.ID },
		farm:    func(f *farm.Field) *int64 { return &f.FarmID },
		version: func(f *farm.Field) *int64 { return &f.Version },
		edit:    func(f *farm.Field) { f.Name, f.Elevation = "high", unit.None[float64]() },
		end:     func(f *farm.Field, t unit.Maybe[time.Time]) { f.RemovedAt = t },
		add:     store.Writer.AddField,
		get: func(r store.Reader, ctx context.Context, farmID, id int64) (farm.Field, error) {
			f, err := r.Field(ctx, farmID, id)
			return f.Field, err
		},
		list: func(r store.Reader, ctx context.Context, farmID int64, p store.Page) (fs []farm.Field, err error) {
			list, err := r.Fields(ctx, farmID, p)
			for _, f := range list {
				fs = append(fs, f.Field)
			}
			return fs, err
		},
		update: store.Writer.UpdateField,
	}.check(t, b, mine, other)
}

func fullBed(w world) farm.Bed {
	return farm.Bed{FarmID: w.farm, FieldID: w.field, Name: "7", Crop: "chard", Variety: "green",
		Purpose: farm.Overwinter, SownOn: unit.Some(farm.Day("2026-08-01")), StandingKg: unit.Some(0.0),
		PricePerKg: unit.Some(3.25), LiftKgPerHour: unit.Some(40.0), CostLossSet: unit.Some(0.35),
		ToleranceSet: unit.Some(unit.Kelvins(-1.5)),
		Covers:       []farm.Cover{{Kind: "low_tunnel", On: "2026-10-01", Off: "2026-12-01"}, {Kind: "row_cover_light", On: "2026-12-01"}},
		Mulches:      []farm.Mulch{{Cm: 0}, {Cm: 12.5, On: "2026-11-20"}},
		CreatedAt:    at(1, 3), QuietUntil: unit.Some(at(15, 12))}
}

func checkBeds(t *testing.T, b *book) {
	mine, other := settle(t, b, "mine"), settle(t, b, "other")
	versioned[farm.Bed]{
		samples: []farm.Bed{fullBed(mine), {FarmID: mine.farm, FieldID: mine.field, Name: "bare", CreatedAt: at(2, 0)}},
		id:      func(x *farm.Bed) *int64 { return &x.ID },
		farm:    func(x *farm.Bed) *int64 { return &x.FarmID },
		version: func(x *farm.Bed) *int64 { return &x.Version },
		edit: func(x *farm.Bed) {
			x.StandingKg, x.QuietUntil, x.Covers = unit.Some(12.0), unit.None[time.Time](), nil
		},
		end: func(x *farm.Bed, t unit.Maybe[time.Time]) { x.ClearedAt = t },
		add: store.Writer.AddBed,
		get: store.Reader.Bed,
		list: func(r store.Reader, ctx context.Context, farmID int64, p store.Page) (list []farm.Bed, err error) {
			// the first bed of a world is not among the samples
			p.After = max(p.After, mine.bed, other.bed)
			return r.Beds(ctx, farmID, store.BedFilter{Page: p})
		},
		update: store.Writer.UpdateBed,
	}.check(t, b, mine.farm, other.farm)
}

func checkRecipients(t *testing.T, b *book) {
	mine := added(t, b, store.Writer.AddFarm, farm.New("mine", at(1, 0)))
	other := added(t, b, store.Writer.AddFarm, farm.New("other", at(1, 0)))
	full := farm.Recipient{FarmID: mine, Name: "Zoë", Email: "zoe@example.org", Phone: "+12025550123", Language: "es",
		Units: unit.US, QuietFrom: "21:30", QuietTo: "06:00", Kinds: []string{"harvest-before", "blind"},
		MutedSMS: true, MutedMail: []string{"still-watching"}, CreatedAt: at(1, 2)}
	versioned[farm.Recipient]{
		samples: []farm.Recipient{full, {FarmID: mine, Name: "bare", CreatedAt: at(2, 0)}},
		id:      func(x *farm.Recipient) *int64 { return &x.ID },
		farm:    func(x *farm.Recipient) *int64 { return &x.FarmID },
		version: func(x *farm.Recipient) *int64 { return &x.Version },
		edit:    func(x *farm.Recipient) { x.MutedSMS, x.Kinds, x.Phone = false, nil, "" },
		end:     func(x *farm.Recipient, t unit.Maybe[time.Time]) { x.RemovedAt = t },
		add:     store.Writer.AddRecipient, get: store.Reader.Recipient,
		list: store.Reader.Recipients, update: store.Writer.UpdateRecipient,
	}.check(t, b, mine, other)
}

func checkRooms(t *testing.T, b *book) {
	mine := added(t, b, store.Writer.AddFarm, farm.New("mine", at(1, 0)))
	other := added(t, b, store.Writer.AddFarm, farm.New("other", at(1, 0)))
	full := farm.Room{FarmID: mine, Name: "cellar", Kind: farm.Cellar, Temperature: -0.5, Humidity: unit.Some(0.97),
		CapacityKg: unit.Some(1200.0), CreatedAt: at(1, 2)}
	versioned[farm.Room]{
		samples: []farm.Room{full, {FarmID: mine, Name: "bare", Kind: farm.Airy, CreatedAt: at(2, 0)}},
		id:      func(x *farm.Room) *int64 { return &x.ID },
		farm:    func(x *farm.Room) *int64 { return &x.FarmID },
		version: func(x *farm.Room) *int64 { return &x.Version },
		edit:    func(x *farm.Room) { x.Temperature, x.Humidity = 3.9, unit.None[float64]() },
		end:     func(x *farm.Room, t unit.Maybe[time.Time]) { x.RemovedAt = t },
		add:     store.Writer.AddRoom, get: store.Reader.Room,
		list: store.Reader.Rooms, update: store.Writer.UpdateRoom,
	}.check(t, b, mine, other)
}

func checkLots(t *testing.T, b *book) {
	mine, other := settle(t, b, "mine"), settle(t, b, "other")
	room := added(t, b, store.Writer.AddRoom, farm.Room{FarmID: mine.farm, Name: "cellar", Kind: farm.Cellar, CreatedAt: at(1, 0)})
	full := farm.Lot{FarmID: mine.farm, RoomID: room, Crop: "onion", Variety: "red", Kg: 120.5, HarvestedAt: at(2, 14),
		Container: "hung", CuredAt: unit.Some(at(12, 0)), FromBedID: mine.bed, CreatedAt: at(2, 15)}
	versioned[farm.Lot]{
		samples: []farm.Lot{full, {FarmID: mine.farm, RoomID: room, Crop: "leek", HarvestedAt: at(3, 0), CreatedAt: at(3, 0)}},
		id:      func(x *farm.Lot) *int64 { return &x.ID },
		farm:    func(x *farm.Lot) *int64 { return &x.FarmID },
		version: func(x *farm.Lot) *int64 { return &x.Version },
		edit:    func(x *farm.Lot) { x.Kg, x.FromBedID = 3, 0 },
		end:     func(x *farm.Lot, t unit.Maybe[time.Time]) { x.EndedAt = t },
		add:     store.Writer.AddLot, get: store.Reader.Lot,
		list: store.Reader.Lots, update: store.Writer.UpdateLot,
	}.check(t, b, mine.farm, other.farm)
}
