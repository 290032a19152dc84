package commands

import (
	"database/sql"
	"encoding/json"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/storetest"
	"winterstand/internal/unit"
)

// try is a command with what it gives.
type try func() (any, error)

// nothing is a command that gives nothing but its error.
func nothing(do func() error) try { return func() (any, error) { return nil, do() } }

func gives[T any](do func() (T, error)) try { return func() (any, error) { return do() } }

// commands are what people may do; each makes what it needs when it is called.
func (b *bench) commands() map[string]func() try {
	ctx := b.Context()
	person := func() farm.Recipient {
		r, err := b.AddRecipient(ctx, b.farm, RecipientInput{Name: Set("Ann"), Email: Set("ann@hill.example")})
		require.NoError(b, err)
		return r
	}
	room := func() farm.Room {
		r, err := b.AddRoom(ctx, b.farm, RoomInput{Name: Set("Cellar"), Kind: Set("cellar"), Temperature: Set(4.0)})
		require.NoError(b, err)
		return r
	}
	input := func(room int64) LotInput {
		return LotInput{RoomID: Set(room), Crop: Set("carrot"), Kg: Set(20.0), HarvestedAt: Set(noon.AddDate(0, 0, -3))}
	}
	lot := func() farm.Lot {
		l, err := b.AddLot(ctx, b.farm, input(room().ID))
		require.NoError(b, err)
		return l
	}
	bed := func() farm.Bed { return b.bed(b.placed("Top"), BedInput{StandingKg: Set(50.0)}) }
	none := unit.None[int64]()
	b.placed("Import")
	stores, err := b.AddRoom(ctx, b.farm, RoomInput{Name: Set("Stores"), Kind: Set("cellar"), Temperature: Set(4.0)})
	require.NoError(b, err)
	return map[string]func() try{
		"change the farm": func() try {
			return gives(func() (farm.Farm, error) { return b.ChangeFarm(ctx, b.farm, none, FarmInput{NoticeLeadH: Set(48.0)}) })
		},
		"add a field": func() try {
			return gives(func() (store.Field, error) {
				return b.AddField(ctx, b.farm, FieldInput{Name: Set("Top"), Latitude: Set(46.5), Longitude: Set(-92.1)})
			})
		},
		"change a field": func() try {
			f := b.placed("Top")
			return gives(func() (store.Field, error) {
				return b.ChangeField(ctx, b.farm, f.ID, none, FieldInput{Latitude: Set(46.6)})
			})
		},
		"remove a field": func() try {
			f := b.placed("Top")
			return nothing(func() error { return b.RemoveField(ctx, b.farm, f.ID, none) })
		},
		"add a bed": func() try {
			f := b.placed("Top")
			return gives(func() (farm.Bed, error) {
				return b.AddBed(ctx, b.farm, BedInput{FieldID: Set(f.ID), Name: Set("B4"), Crop: Set("chard")})
			})
		},
		"change a bed": func() try {
			x := bed()
			return gives(func() (farm.Bed, error) {
				return b.ChangeBed(ctx, b.farm, x.ID, none, BedInput{StandingKg: Set(40.0)})
			})
		},
		"clear a bed": func() try { x := bed(); return nothing(func() error { return b.ClearBed(ctx, b.farm, x.ID, none) }) },
		"add a person": func() try {
			return gives(func() (farm.Recipient, error) {
				return b.AddRecipient(ctx, b.farm, RecipientInput{Name: Set("Bo"), Email: Set("bo@hill.example"), Phone: Set("+16125550101")})
			})
		},
		"change a person": func() try {
			r := person()
			return gives(func() (farm.Recipient, error) {
				return b.ChangeRecipient(ctx, b.farm, r.ID, none, RecipientInput{Name: Set("Bo")})
			})
		},
		"remove a person": func() try {
			r := person()
			return nothing(func() error { return b.RemoveRecipient(ctx, b.farm, r.ID, none) })
		},
		"send a test": func() try {
			r := person()
			return gives(func() ([]store.Message, error) { return b.SendTest(ctx, b.farm, r.ID) })
		},
		"add a room": func() try {
			return gives(func() (farm.Room, error) {
				return b.AddRoom(ctx, b.farm, RoomInput{Name: Set("Fridge"), Kind: Set("fridge"), Temperature: Set(2.0)})
			})
		},
		"change a room": func() try {
			r := room()
			return gives(func() (farm.Room, error) {
				return b.ChangeRoom(ctx, b.farm, r.ID, none, RoomInput{Temperature: Set(5.0)})
			})
		},
		"remove a room": func() try { r := room(); return nothing(func() error { return b.RemoveRoom(ctx, b.farm, r.ID, none) }) },
		"add a lot": func() try {
			r := room()
			return gives(func() (farm.Lot, error) { return b.AddLot(ctx, b.farm, input(r.ID)) })
		},
		"change a lot": func() try {
			l := lot()
			return gives(func() (farm.Lot, error) { return b.ChangeLot(ctx, b.farm, l.ID, none, LotInput{Kg: Set(10.0)}) })
		},
		"end a lot": func() try { l := lot(); return nothing(func() error { return b.EndLot(ctx, b.farm, l.ID, none) }) },
		"add readings": func() try {
			f := b.placed("Top")
			return gives(func() ([]farm.Reading, error) {
				return b.AddReadings(ctx, b.farm, []ReadingInput{{FieldID: Set(f.ID), At: Set(noon.Add(-time.Hour)), Quantity: Set("air_c"), Value: Set(-2.0)}})
			})
		},
		"add a finding": func() try {
			x := bed()
			return gives(func() (farm.Finding, error) {
				return b.AddFinding(ctx, b.farm, FindingInput{BedID: Set(x.ID), Night: Set("2026-11-12"), LostFraction: Set(0.5)})
			})
		},
		"renew the calendar": func() try { return gives(func() (farm.Farm, error) { return b.RenewCalendar(ctx, b.farm, none) }) },
		"import readings": func() try {
			return gives(func() (Imported, error) {
				return b.Import(ctx, b.farm, "readings", []byte("field,at,quantity,value\nImport,2026-11-13T07:00:00Z,air_c,-2\n"))
			})
		},
		"import lots": func() try {
			return gives(func() (Imported, error) {
				return b.Import(ctx, b.farm, "lots", []byte("room,crop,kg,harvested_at\n"+stores.Name+",carrot,20,2026-11-01T12:00:00Z\n"))
			})
		},
		"import beds": func() try {
			return gives(func() (Imported, error) {
				return b.Import(ctx, b.farm, "beds", []byte("name,crop,field\nB1,chard,Import\n"))
			})
		},
	}
}

var digits = regexp.MustCompile(`"(Key|CalendarSecret)":"[^"]*"|\d+`)

// said is what a command gave, without its numbers and its random key.
func said(t *testing.T, v any) string {
	t.Helper()
	body, err := json.Marshal(v)
	require.NoError(t, err)
	return digits.ReplaceAllString(string(body), "#")
}

// A command whose book fails it anywhere says so and writes nothing; one that does
// not need the broken part does all that it does else.
func TestACommandIsDoneWhollyOrNotAtAll(t *testing.T) {
	for name := range newBench(t).commands() {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			prepare := b.commands()[name]
			do := prepare()
			before := storetest.Contents(t, b.store.DB())
			whole, err := do()
			require.NoError(t, err)
			require.NotEqual(t, before, storetest.Contents(t, b.store.DB()))
			failed := 0
			for _, broken := range []func(testing.TB, *sql.DB, string, func()){storetest.TableGone, storetest.TableShut} {
				for _, table := range []string{"farm", "field", "bed", "cell", "recipient", "room", "lot", "reading", "finding", "message", "memo"} {
					do := prepare()
					before := storetest.Contents(t, b.store.DB())
					var got any
					var err error
					broken(t, b.store.DB(), table, func() { got, err = do() })
					if err == nil {
						assert.Equal(t, said(t, whole), said(t, got), "without %s", table)
						assert.NotEqual(t, before, storetest.Contents(t, b.store.DB()), "done without %s", table)
						continue
					}
					failed++
					assert.Regexp(t, "no such table|is shut", err.Error(), "without %s", table)
					assert.Equal(t, before, storetest.Contents(t, b.store.DB()), "half done without %s", table)
				}
			}
			assert.Positive(t, failed)
		})
	}
}
