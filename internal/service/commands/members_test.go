package commands

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// whole insists that an input gives every member it has, so that a new one must
// be added to what it is compared with.
func whole(t *testing.T, input any, but ...string) {
	t.Helper()
	for name, given := range members(input) {
		assert.True(t, given || len(but) > 0 && name == but[0], "%T: %s is not given", input, name)
	}
}

func TestEveryMemberOfAFarmIsKept(t *testing.T) {
	b := newBench(t)
	in := FarmInput{
		Name: Set(" Valley Farm "), Units: Set("us"), Language: Set("es"), TimeZone: Set("America/New_York"), Currency: Set("cad"),
		NoticeLeadH: Set(48.0), MovedStepH: Set(4.5), BlindAfterH: Set(12.0), WindChillLimit: Set(-15.0), StillWatching: Set(false),
		Crew:   Set([]farm.Shift{{Day: "mon", From: "08:00", To: "12:30", People: 2.5}}),
		Wanted: Set([]farm.Want{{Crop: "Kale", KgPerWeek: 20, From: "2026-11-01", To: "2026-11-01"}}),
	}
	whole(t, in)
	before, err := b.store.Farm(t.Context(), b.farm)
	require.NoError(t, err)
	_, err = b.ChangeFarm(t.Context(), b.farm, Seen{}, in)
	require.NoError(t, err)
	got, err := b.store.Farm(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Equal(t, farm.Farm{
		ID: b.farm, Name: "Valley Farm", Units: unit.US, Language: "es", TimeZone: "America/New_York", Currency: "CAD",
		NoticeLead: 48 * time.Hour, MovedStep: 4*time.Hour + 30*time.Minute, BlindAfter: 12 * time.Hour, WindChillLimit: -15, StillWatching: false,
		Crew:           []farm.Shift{{Day: "mon", From: "08:00", To: "12:30", People: 2.5}},
		Wanted:         []farm.Want{{Crop: "kale-curly", KgPerWeek: 20, From: "2026-11-01", To: "2026-11-01"}},
		CalendarSecret: before.CalendarSecret, CreatedAt: noon, Version: before.Version + 1,
	}, got)
	// Lists are emptied by null, and left alone where nothing is said of them.
	_, err = b.ChangeFarm(t.Context(), b.farm, Seen{}, FarmInput{Crew: Clear[[]farm.Shift]()})
	require.NoError(t, err)
	again, err := b.store.Farm(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Empty(t, again.Crew)
	assert.Equal(t, got.Wanted, again.Wanted)
}

func TestEveryMemberOfAFieldIsKept(t *testing.T) {
	b := newBench(t)
	in := FieldInput{Name: Set(" North "), Latitude: Set(46.25), Longitude: Set(-92.5), Elevation: Set(310.0), Soil: Set("sand"), LowSpot: Set(1.5), TimeZone: Set("America/New_York")}
	whole(t, in)
	got, err := b.AddField(t.Context(), b.farm, in)
	require.NoError(t, err)
	want := farm.Field{ID: got.ID, FarmID: b.farm, Name: "North", Latitude: 46.25, Longitude: -92.5, Elevation: unit.Some(310.0), Soil: "sand", LowSpot: 1.5,
		TimeZone: "America/New_York", CreatedAt: noon, Version: got.Version}
	assert.Equal(t, want, got.Field)
	// What may be empty goes back to its default.
	_, err = b.ChangeField(t.Context(), b.farm, got.ID, Seen{}, FieldInput{Elevation: Clear[float64](), Soil: Clear[string](), LowSpot: Clear[float64](), TimeZone: Clear[string]()})
	require.NoError(t, err)
	bare, err := b.store.Field(t.Context(), b.farm, got.ID)
	require.NoError(t, err)
	want.Elevation, want.Soil, want.LowSpot, want.TimeZone, want.Version = unit.None[float64](), "loam", 0, "", got.Version+1
	assert.Equal(t, want, bare.Field)
}

func TestEveryMemberOfABedIsKept(t *testing.T) {
	b := newBench(t)
	f := b.field("North")
	in := BedInput{
		FieldID: Set(f.ID), Name: Set(" B4 "), Crop: Set("Kale"), Variety: Set(" Frilled "), Purpose: Set("household"), SownOn: Set("2026-07-20"),
		StandingKg: Set(80.0), PricePerKg: Set(6.5), LiftKgPerHour: Set(12.0), CostLoss: Set(0.25), MulchCm: Set(7.5), ToleranceShift: Set(-1.5),
		Covers: Set([]farm.Cover{{Kind: "row_cover_heavy", On: "2026-11-01", Off: "2026-11-02"}, {Kind: "low_tunnel", On: "2026-11-10"}}),
	}
	whole(t, in)
	got, err := b.AddBed(t.Context(), b.farm, in)
	require.NoError(t, err)
	want := farm.Bed{
		ID: got.ID, FarmID: b.farm, FieldID: f.ID, Name: "B4", Crop: "kale-curly", Variety: "Frilled", Purpose: farm.Household, SownOn: unit.Some(farm.Day("2026-07-20")),
		StandingKg: unit.Some(80.0), PricePerKg: unit.Some(6.5), LiftKgPerHour: unit.Some(12.0), CostLossSet: unit.Some(0.25), ToleranceSet: unit.Some(unit.Kelvins(-1.5)),
		Covers:  []farm.Cover{{Kind: "row_cover_heavy", On: "2026-11-01", Off: "2026-11-02"}, {Kind: "low_tunnel", On: "2026-11-10"}},
		Mulches: []farm.Mulch{{Cm: 7.5}}, CreatedAt: noon, Version: got.Version,
	}
	assert.Equal(t, want, got)
	_, err = b.ChangeBed(t.Context(), b.farm, got.ID, Seen{}, BedInput{Variety: Clear[string](), Purpose: Clear[string](), CostLoss: Clear[float64](), Covers: Clear[[]farm.Cover](), FieldID: Set(f.ID)})
	require.NoError(t, err)
	bare, err := b.store.Bed(t.Context(), b.farm, got.ID)
	require.NoError(t, err)
	want.Variety, want.Purpose, want.CostLossSet, want.Covers, want.Version = "", farm.Fresh, unit.None[float64](), bare.Covers, got.Version+1
	assert.Empty(t, bare.Covers)
	assert.Equal(t, want, bare)
}

func TestEveryMemberOfARecipientIsKept(t *testing.T) {
	b := newBench(t)
	in := RecipientInput{Name: Set(" Ada "), Email: Set(" ada@farm.example "), Phone: Set("+1 (612) 555-0101"), Language: Set("es"), Units: Set("us"),
		QuietFrom: Set("21:30"), QuietTo: Set("06:00"), Kinds: Set([]string{"moved", "harvest-before", "moved"})}
	whole(t, in)
	got, err := b.AddRecipient(t.Context(), b.farm, in)
	require.NoError(t, err)
	assert.Equal(t, farm.Recipient{ID: got.ID, FarmID: b.farm, Name: "Ada", Email: "ada@farm.example", Phone: "+16125550101", Language: "es", Units: unit.US,
		QuietFrom: "21:30", QuietTo: "06:00", Kinds: []string{"harvest-before", "moved"}, CreatedAt: noon, Version: got.Version}, got)
	// Language and units that are left out are the farm's; quiet hours may be emptied.
	like, err := b.ChangeRecipient(t.Context(), b.farm, got.ID, Seen{}, RecipientInput{Phone: Clear[string](), Language: Clear[string](), Units: Clear[string](),
		QuietFrom: Clear[string](), QuietTo: Clear[string](), Kinds: Clear[[]string]()})
	require.NoError(t, err)
	assert.Equal(t, farm.Recipient{ID: got.ID, FarmID: b.farm, Name: "Ada", Email: "ada@farm.example", Language: "en", Units: unit.Metric, CreatedAt: noon, Version: got.Version + 1}, like)
}

func TestEveryMemberOfARoomAndALotIsKept(t *testing.T) {
	b := newBench(t)
	room := RoomInput{Name: Set(" Cellar "), Kind: Set("cellar"), Temperature: Set(3.9), Humidity: Set(0.95), CapacityKg: Set(800.0)}
	whole(t, room)
	r, err := b.AddRoom(t.Context(), b.farm, room)
	require.NoError(t, err)
	assert.Equal(t, farm.Room{ID: r.ID, FarmID: b.farm, Name: "Cellar", Kind: "cellar", Temperature: 3.9, Humidity: unit.Some(0.95), CapacityKg: unit.Some(800.0),
		CreatedAt: noon, Version: r.Version}, r)
	bed := b.bed(b.field("North"), BedInput{})
	harvested, cured, ended := noon.AddDate(0, 0, -9), noon.AddDate(0, 0, -2), noon.AddDate(0, 0, -1)
	in := LotInput{RoomID: Set(r.ID), Crop: Set("Onion"), Variety: Set(" Gold "), Kg: Set(120.0), HarvestedAt: Set(harvested.Add(300 * time.Millisecond)),
		Container: Set("crate"), CuredAt: Set(cured), FromBedID: Set(bed.ID)}
	whole(t, in, "ended_at")
	l, err := b.AddLot(t.Context(), b.farm, in)
	require.NoError(t, err)
	want := farm.Lot{ID: l.ID, FarmID: b.farm, RoomID: r.ID, Crop: "onion", Variety: "Gold", Kg: 120, HarvestedAt: harvested, Container: "crate",
		CuredAt: unit.Some(cured), FromBedID: bed.ID, CreatedAt: noon, Version: l.Version}
	assert.Equal(t, want, l)
	_, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{EndedAt: Set(ended), CuredAt: Clear[time.Time](), Container: Clear[string](), FromBedID: Clear[int64]()})
	require.NoError(t, err)
	got, err := b.store.Lot(t.Context(), b.farm, l.ID)
	require.NoError(t, err)
	want.EndedAt, want.CuredAt, want.Container, want.FromBedID, want.Version = unit.Some(ended), unit.None[time.Time](), "open", 0, l.Version+1
	assert.Equal(t, want, got)
}

func TestEveryMemberOfAReadingAndAFindingIsKept(t *testing.T) {
	b := newBench(t)
	f := b.field("North")
	bed := b.bed(f, BedInput{})
	in := ReadingInput{FieldID: Set(f.ID), At: Set(noon.Add(-time.Hour)), Quantity: Set("soil_c"), DepthCm: Set(5.0), Value: Set(2.5)}
	whole(t, in)
	_, err := b.AddReadings(t.Context(), b.farm, []ReadingInput{in})
	require.NoError(t, err)
	rs, err := b.store.Readings(t.Context(), b.farm, f.ID, noon.AddDate(0, 0, -1), noon)
	require.NoError(t, err)
	require.Len(t, rs, 1)
	assert.Equal(t, farm.Reading{ID: rs[0].ID, FarmID: b.farm, FieldID: f.ID, At: noon.Add(-time.Hour), Quantity: "soil_c", DepthCm: unit.Some(5.0), Value: 2.5}, rs[0])
	found := FindingInput{BedID: Set(bed.ID), Night: Set("2026-11-13"), LostFraction: Set(0.3), Note: Set("outer leaves\nonly")}
	whole(t, found)
	_, err = b.AddFinding(t.Context(), b.farm, found)
	require.NoError(t, err)
	fs, err := b.store.Findings(t.Context(), b.farm, bed.ID)
	require.NoError(t, err)
	require.Len(t, fs, 1)
	assert.Equal(t, farm.Finding{ID: fs[0].ID, FarmID: b.farm, BedID: bed.ID, Night: "2026-11-13", LostFraction: 0.3, Note: "outer leaves\nonly", CreatedAt: noon}, fs[0])
}

// A room counts as filled, or emptied, when its lots or its capacity change, each
// room once.
func TestRoomsAreToldOfTheirLoad(t *testing.T) {
	b := newBench(t)
	var told []int64
	b.Filled = func(_ context.Context, _ store.Writer, farmID, roomID int64) error {
		assert.Equal(t, b.farm, farmID)
		told = append(told, roomID)
		return nil
	}
	since := func() []int64 { out := told; told = nil; return out }
	room := func(name string) int64 {
		r, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Set(name), Kind: Set("cellar"), Temperature: Set(2.0)})
		require.NoError(t, err)
		return r.ID
	}
	one, two := room("one"), room("two")
	l, err := b.AddLot(t.Context(), b.farm, LotInput{RoomID: Set(two), Crop: Set("beet"), Kg: Set(5.0), HarvestedAt: Set(noon)})
	require.NoError(t, err)
	assert.Equal(t, []int64{two}, since())
	_, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{RoomID: Set(one)})
	require.NoError(t, err)
	assert.Equal(t, []int64{one, two}, since())
	_, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{Kg: Set(4.0)})
	require.NoError(t, err)
	assert.Equal(t, []int64{one}, since())
	_, err = b.ChangeRoom(t.Context(), b.farm, two, Seen{}, RoomInput{CapacityKg: Set(9.0)})
	require.NoError(t, err)
	assert.Equal(t, []int64{two}, since())
	require.NoError(t, b.EndLot(t.Context(), b.farm, l.ID, Seen{}))
	assert.Equal(t, []int64{one}, since())
	require.NoError(t, b.EndLot(t.Context(), b.farm, l.ID, Seen{}))
	assert.Empty(t, since(), "ended twice")
}
