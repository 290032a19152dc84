package storetest

import (
	"context"
	"testing"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func checkFields(t *testing.T, b *book) {
	mine := added(t, b, store.Writer.AddFarm, farm.New("mine", at(1, 0)))
	other := added(t, b, store.Writer.AddFarm, farm.New("other", at(1, 0)))
	versioned[farm.Field]{
		bare:    farm.Field{FarmID: mine, CreatedAt: at(2, 0)},
		id:      func(x *farm.Field) *int64 { return &x.ID },
		version: func(x *farm.Field) *int64 { return &x.Version },
		farm:    func(x *farm.Field) *int64 { return &x.FarmID },
		added:   func(x *farm.Field) *time.Time { return &x.CreatedAt },
		ended:   func(x *farm.Field) *unit.Maybe[time.Time] { return &x.RemovedAt },
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

func checkBeds(t *testing.T, b *book) {
	mine, other := settle(t, b, "mine"), settle(t, b, "other")
	south := added(t, b, store.Writer.AddField, farm.Field{FarmID: mine.farm, Name: "south", CreatedAt: at(1, 0)})
	versioned[farm.Bed]{
		bare:    farm.Bed{FarmID: mine.farm, FieldID: mine.field, CreatedAt: at(2, 0)},
		id:      func(x *farm.Bed) *int64 { return &x.ID },
		version: func(x *farm.Bed) *int64 { return &x.Version },
		farm:    func(x *farm.Bed) *int64 { return &x.FarmID },
		added:   func(x *farm.Bed) *time.Time { return &x.CreatedAt },
		ended:   func(x *farm.Bed) *unit.Maybe[time.Time] { return &x.ClearedAt },
		add:     store.Writer.AddBed,
		get:     store.Reader.Bed,
		list: func(r store.Reader, ctx context.Context, farmID int64, p store.Page) (list []farm.Bed, err error) {
			// the first bed of a world is not among those added here
			p.After = max(p.After, mine.bed, other.bed)
			return r.Beds(ctx, farmID, store.BedFilter{Page: p})
		},
		update: store.Writer.UpdateBed,
		move:   func(x *farm.Bed) { x.FieldID = south },
	}.check(t, b, mine.farm, other.farm)
}

func checkRecipients(t *testing.T, b *book) {
	mine := added(t, b, store.Writer.AddFarm, farm.New("mine", at(1, 0)))
	other := added(t, b, store.Writer.AddFarm, farm.New("other", at(1, 0)))
	versioned[farm.Recipient]{
		bare:    farm.Recipient{FarmID: mine, CreatedAt: at(2, 0)},
		id:      func(x *farm.Recipient) *int64 { return &x.ID },
		version: func(x *farm.Recipient) *int64 { return &x.Version },
		farm:    func(x *farm.Recipient) *int64 { return &x.FarmID },
		added:   func(x *farm.Recipient) *time.Time { return &x.CreatedAt },
		ended:   func(x *farm.Recipient) *unit.Maybe[time.Time] { return &x.RemovedAt },
		add:     store.Writer.AddRecipient, get: store.Reader.Recipient,
		list: store.Reader.Recipients, update: store.Writer.UpdateRecipient,
	}.check(t, b, mine, other)
}

func checkRooms(t *testing.T, b *book) {
	mine := added(t, b, store.Writer.AddFarm, farm.New("mine", at(1, 0)))
	other := added(t, b, store.Writer.AddFarm, farm.New("other", at(1, 0)))
	versioned[farm.Room]{
		bare:    farm.Room{FarmID: mine, CreatedAt: at(2, 0)},
		id:      func(x *farm.Room) *int64 { return &x.ID },
		version: func(x *farm.Room) *int64 { return &x.Version },
		farm:    func(x *farm.Room) *int64 { return &x.FarmID },
		added:   func(x *farm.Room) *time.Time { return &x.CreatedAt },
		ended:   func(x *farm.Room) *unit.Maybe[time.Time] { return &x.RemovedAt },
		add:     store.Writer.AddRoom, get: store.Reader.Room,
		list: store.Reader.Rooms, update: store.Writer.UpdateRoom,
	}.check(t, b, mine, other)
}

// checkLots moves a lot to another room, too; no bed is none.
func checkLots(t *testing.T, b *book) {
	mine, other := settle(t, b, "mine"), settle(t, b, "other")
	cellar := added(t, b, store.Writer.AddRoom, farm.Room{FarmID: mine.farm, Name: "cellar", CreatedAt: at(1, 0)})
	shed := added(t, b, store.Writer.AddRoom, farm.Room{FarmID: mine.farm, Name: "shed", CreatedAt: at(1, 0)})
	versioned[farm.Lot]{
		bare:    farm.Lot{FarmID: mine.farm, RoomID: cellar, FromBedID: mine.bed, HarvestedAt: at(2, 0), CreatedAt: at(3, 0)},
		id:      func(x *farm.Lot) *int64 { return &x.ID },
		version: func(x *farm.Lot) *int64 { return &x.Version },
		farm:    func(x *farm.Lot) *int64 { return &x.FarmID },
		added:   func(x *farm.Lot) *time.Time { return &x.CreatedAt },
		ended:   func(x *farm.Lot) *unit.Maybe[time.Time] { return &x.EndedAt },
		add:     store.Writer.AddLot, get: store.Reader.Lot,
		list: store.Reader.Lots, update: store.Writer.UpdateLot,
		move: func(x *farm.Lot) { x.RoomID, x.FromBedID, x.HarvestedAt = shed, 0, at(4, 0) },
	}.check(t, b, mine.farm, other.farm)
}
