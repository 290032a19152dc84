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
		Name: Give(" Valley Farm "), Units: Give("us"), Language: Give("es"), TimeZone: Give("America/New_York"), Currency: Give("cad"),
		NoticeLeadH: Give(48.0), MovedStepH: Give(4.5), BlindAfterH: Give(12.0), WindChillLimit: Give(-15.0), StillWatching: Give(false),
		Crew:   Give([]farm.Shift{{Day: "mon", From: "08:00", To: "12:30", People: 2.5}}),
		Wanted: Give([]farm.Want{{Crop: "Kale", KgPerWeek: 20, From: "2026-11-01", To: "2026-11-01"}}),
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
	in := FieldInput{Name: Give(" North "), Latitude: Give(46.25), Longitude: Give(-92.5), Elevation: Give(310.0), Soil: Give("sand"), LowSpot: Give(1.5), TimeZone: Give("America/New_York")}
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
		FieldID: Give(f.ID), Name: Give(" B4 "), Crop: Give("Kale"), Variety: Give(" Frilled "), Purpose: Give("household"), SownOn: Give("2026-07-20"),
		StandingKg: Give(80.0), PricePerKg: Give(6.5), LiftKgPerHour: Give(12.0), CostLoss: Give(0.25), MulchCm: Give(7.5), ToleranceShift: Give(-1.5),
		Covers: Give([]farm.Cover{{Kind: "row_cover_heavy", On: "2026-11-01", Off: "2026-11-02"}, {Kind: "low_tunnel", On: "2026-11-10"}}),
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
	_, err = b.ChangeBed(t.Context(), b.farm, got.ID, Seen{}, BedInput{Variety: Clear[string](), Purpose: Clear[string](), CostLoss: Clear[float64](), Covers: Clear[[]farm.Cover](), FieldID: Give(f.ID)})
	require.NoError(t, err)
	bare, err := b.store.Bed(t.Context(), b.farm, got.ID)
	require.NoError(t, err)
	want.Variety, want.Purpose, want.CostLossSet, want.Covers, want.Version = "", farm.Fresh, unit.None[float64](), bare.Covers, got.Version+1
	assert.Empty(t, bare.Covers)
	assert.Equal(t, want, bare)
}

func TestEveryMemberOfARecipientIsKept(t *testing.T) {
	b := newBench(t)
	in := RecipientInput{Name: Give(" Ada "), Email: Give(" ada@farm.example "), Phone: Give("+1 (612) 555-0101"), Language: Give("es"), Units: Give("us"),
		QuietFrom: Give("21:30"), QuietTo: Give("06:00"), Kinds: Give([]string{"moved", "harvest-before", "moved"})}
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
	room := RoomInput{Name: Give(" Cellar "), Kind: Give("cellar"), Temperature: Give(3.9), Humidity: Give(0.95), CapacityKg: Give(800.0)}
	whole(t, room)
	r, err := b.AddRoom(t.Context(), b.farm, room)
	require.NoError(t, err)
	assert.Equal(t, farm.Room{ID: r.ID, FarmID: b.farm, Name: "Cellar", Kind: "cellar", Temperature: 3.9, Humidity: unit.Some(0.95), CapacityKg: unit.Some(800.0),
		CreatedAt: noon, Version: r.Version}, r)
	bed := b.bed(b.field("North"), BedInput{})
	harvested, cured, ended := noon.AddDate(0, 0, -9), noon.AddDate(0, 0, -2), noon.AddDate(0, 0, -1)
	in := LotInput{RoomID: Give(r.ID), Crop: Give("Onion"), Variety: Give(" Gold "), Kg: Give(120.0), HarvestedAt: Give(harvested.Add(300 * time.Millisecond)),
		Container: Give("crate"), CuredAt: Give(cured), FromBedID: Give(bed.ID)}
	whole(t, in, "ended_at")
	l, err := b.AddLot(t.Context(), b.farm, in)
	require.NoError(t, err)
	want := farm.Lot{ID: l.ID, FarmID: b.farm, RoomID: r.ID, Crop: "onion", Variety: "Gold", Kg: 120, HarvestedAt: harvested, Container: "crate",
		CuredAt: unit.Some(cured), FromBedID: bed.ID, CreatedAt: noon, Version: l.Version}
	assert.Equal(t, want, l)
	_, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{EndedAt: Give(ended), CuredAt: Clear[time.Time](), Container: Clear[string](), FromBedID: Clear[int64]()})
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
	in := ReadingInput{FieldID: Give(f.ID), At: Give(noon.Add(-time.Hour)), Quantity: Give("soil_c"), DepthCm: Give(5.0), Value: Give(2.5)}
	whole(t, in)
	_, err := b.AddReadings(t.Context(), b.farm, []ReadingInput{in})
	require.NoError(t, err)
	rs, err := b.store.Readings(t.Context(), b.farm, f.ID, noon.AddDate(0, 0, -1), noon)
	require.NoError(t, err)
	require.Len(t, rs, 1)
	assert.Equal(t, farm.Reading{ID: rs[0].ID, FarmID: b.farm, FieldID: f.ID, At: noon.Add(-time.Hour), Quantity: "soil_c", DepthCm: unit.Some(5.0), Value: 2.5}, rs[0])
	found := FindingInput{BedID: Give(bed.ID), Night: Give("2026-11-13"), LostFraction: Give(0.3), Note: Give("outer leaves\nonly")}
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
		r, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Give(name), Kind: Give("cellar"), Temperature: Give(2.0)})
		require.NoError(t, err)
		return r.ID
	}
	one, two := room("one"), room("two")
	l, err := b.AddLot(t.Context(), b.farm, LotInput{RoomID: Give(two), Crop: Give("beet"), Kg: Give(5.0), HarvestedAt: Give(noon)})
	require.NoError(t, err)
	assert.Equal(t, []int64{two}, since())
	_, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{RoomID: Give(one)})
	require.NoError(t, err)
	assert.Equal(t, []int64{one, two}, since())
	_, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{Kg: Give(4.0)})
	require.NoError(t, err)
	assert.Equal(t, []int64{one}, since())
	_, err = b.ChangeRoom(t.Context(), b.farm, two, Seen{}, RoomInput{CapacityKg: Give(9.0)})
	require.NoError(t, err)
	assert.Equal(t, []int64{two}, since())
	require.NoError(t, b.EndLot(t.Context(), b.farm, l.ID, Seen{}))
	assert.Equal(t, []int64{one}, since())
	require.NoError(t, b.EndLot(t.Context(), b.farm, l.ID, Seen{}))
	assert.Empty(t, since(), "ended twice")
}
