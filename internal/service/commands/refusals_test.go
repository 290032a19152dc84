package commands

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/phrase"
)

// A range holds its bounds unless they are open, and nothing beyond them.
func TestRangesHoldTheirBounds(t *testing.T) {
	for name, r := range Limits {
		assert.Equal(t, !r.OpenMin, r.Refusal(r.Min).None(), name)
		assert.Equal(t, !r.OpenMax, r.Refusal(r.Max).None(), name)
		assert.Empty(t, r.Refusal((r.Min+r.Max)/2), name)
		assert.NotEmpty(t, r.Refusal(math.Nextafter(r.Min, math.Inf(-1))), name)
		assert.NotEmpty(t, r.Refusal(math.Nextafter(r.Max, math.Inf(1))), name)
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			assert.True(t, strings.HasPrefix(r.Refusal(v).String(), "is not a number; must be"), "%s: %v", name, v)
		}
		assert.True(t, strings.HasSuffix(r.line().String(), phrase.Of("amount."+r.Unit).String()), name)
	}
	assert.Equal(t, "must be from 0 to 60 cm", Limits["bed.mulch_cm"].Refusal(-1).String())
	assert.Equal(t, "must be more than 0 and at most 500 people", Limits["shift.people"].Refusal(0).String())
	assert.Equal(t, "must be more than 0 and less than 1 (a share, not per cent)", Limits["bed.cost_loss"].Refusal(20).String())
	assert.Panics(t, func() { within("bed.weight") })
}

// What a text or a moment may be, at its very edges.
func TestTextsAndMoments(t *testing.T) {
	long := strings.Repeat("ö", 80)
	for _, c := range []struct {
		name   string
		reason phrase.Line
		right  bool
	}{
		{"80 letters", aName(long), true}, {"81 letters", aName(long + "e"), false}, {"nothing", aName(""), false}, {"spaces", aName("  "), false},
		{"two lines", aName("a\nb"), false}, {"half a letter", aName("a\xc3"), false}, {"no word", aWord(""), true}, {"a space for a word", aWord(" "), false},
		{"2000 letters", aNote(strings.Repeat("ö", 2000)), true}, {"2001", aNote(strings.Repeat("o", 2001)), false},
		{"lines and tabs", aNote("a\r\n\tb"), true}, {"a bell", aNote("\a"), false}, {"a broken note", aNote("\xff"), false},
		{"a zone", aZone("America/New_York"), true}, {"no zone", aZone(""), false}, {"this machine's", aZone("Local"), false}, {"unknown", aZone("Mars/Base"), false},
		{"a day", aDay("2026-11-14"), true}, {"no such day", aDay("2026-11-31"), false},
		{"a clock", aClock("23:59"), true}, {"24 h", aClock("24:00"), false}, {"a short one", aClock("8:00"), false}, {"no clock", aClock("ab:cd"), false},
		{"a clock that runs ahead", aPast(noon)(noon.Add(time.Hour)), true}, {"the future", aPast(noon)(noon.Add(time.Hour + time.Second)), false},
		{"1950", aPast(noon)(time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC)), true}, {"1949", aPast(noon)(time.Date(1949, 12, 31, 23, 59, 0, 0, time.UTC)), false},
		{"an entry", anID(1), true}, {"no entry", anID(0), false},
		{"mail", anEmail(" a@b.example "), true}, {"a name with mail", anEmail("Ada <a@b.example>"), false}, {"no mail", anEmail("ada"), false},
		{"254 letters of mail", anEmail(strings.Repeat("a", 244) + "@b.example"), true}, {"255", anEmail(strings.Repeat("a", 245) + "@b.example"), false},
		{"money", aCurrency("CAD"), true}, {"no money", aCurrency("dollars"), false},
	} {
		assert.Equal(t, c.right, c.reason.None(), "%s: %s", c.name, c.reason)
	}
}

func TestListsOfAFarmAreChecked(t *testing.T) {
	b := newBench(t)
	shift := func(s farm.Shift) FarmInput {
		return FarmInput{Crew: Set([]farm.Shift{{Day: "mon", From: "08:00", To: "12:00", People: 1}, s})}
	}
	want := func(w farm.Want) FarmInput { return FarmInput{Wanted: Set([]farm.Want{w})} }
	for field, in := range map[string]FarmInput{
		"crew[1].day":           shift(farm.Shift{Day: "monday", From: "08:00", To: "12:00", People: 1}),
		"crew[1].from":          shift(farm.Shift{Day: "mon", From: "8", To: "12:00", People: 1}),
		"crew[1].to":            shift(farm.Shift{Day: "mon", From: "08:00", To: "08:00", People: 1}),
		"crew[1].people":        shift(farm.Shift{Day: "mon", From: "08:00", To: "12:00"}),
		"crew":                  {Crew: Set(make([]farm.Shift, 201))},
		"wanted[0].crop":        want(farm.Want{Crop: "moss", From: "2026-11-01", To: "2026-11-02"}),
		"wanted[0].kg_per_week": want(farm.Want{Crop: "kale", KgPerWeek: -1, From: "2026-11-01", To: "2026-11-02"}),
		"wanted[0].from":        want(farm.Want{Crop: "kale", From: "soon", To: "2026-11-02"}),
		"wanted[0].to":          want(farm.Want{Crop: "kale", From: "2026-11-02", To: "2026-11-01"}),
		"wanted":                {Wanted: Set(make([]farm.Want, 201))},
		"name":                  {Name: Clear[string]()},
	} {
		_, err := b.ChangeFarm(t.Context(), b.farm, Seen{}, in)
		assert.Contains(t, problems(t, err), field)
	}
	full := make([]farm.Shift, 200)
	for i := range full {
		full[i] = farm.Shift{Day: "mon", From: "08:00", To: "12:00", People: 1}
	}
	_, err := b.ChangeFarm(t.Context(), b.farm, Seen{}, FarmInput{Crew: Set(full)})
	assert.NoError(t, err, "two hundred is not too many")
}

func TestCoversOfABedAreChecked(t *testing.T) {
	b := newBench(t)
	f := b.field("North")
	cover := func(c farm.Cover) BedInput {
		return BedInput{FieldID: Set(f.ID), Name: Set("B4"), Crop: Set("chard"), Covers: Set([]farm.Cover{c})}
	}
	for field, in := range map[string]BedInput{
		"covers[0].kind": cover(farm.Cover{Kind: "tarpaulin", On: "2026-11-01"}),
		"covers[0].on":   cover(farm.Cover{Kind: "low_tunnel", On: "soon"}),
		"covers[0].off":  cover(farm.Cover{Kind: "low_tunnel", On: "2026-11-01", Off: "2026-11-01"}),
		"covers":         {FieldID: Set(f.ID), Name: Set("B4"), Crop: Set("chard"), Covers: Set(make([]farm.Cover, 201))},
		"crop":           {FieldID: Set(f.ID), Name: Set("B4"), Crop: Set("moss")},
		"field_id":       {FieldID: Set(f.ID + 1), Name: Set("B4"), Crop: Set("chard")},
		"mulch_cm":       {FieldID: Set(f.ID), Name: Set("B4"), Crop: Set("chard"), MulchCm: Set(61.0)},
	} {
		_, err := b.AddBed(t.Context(), b.farm, in)
		found := problems(t, err)
		assert.Contains(t, found, field)
	}
	bed := b.bed(f, BedInput{})
	_, err := b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{FieldID: Set(b.field("South").ID)})
	assert.Contains(t, problems(t, err), "field_id", "a bed does not move")
	_, err = b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{FieldID: Clear[int64]()})
	assert.Contains(t, problems(t, err), "field_id")
}

func TestPeopleMustBeReachable(t *testing.T) {
	b := newBench(t)
	for field, in := range map[string]RecipientInput{
		"email":    {Name: Set("Ada")},
		"quiet_to": {Name: Set("Ada"), Email: Set("a@b.example"), QuietFrom: Set("21:30")},
		"phone":    {Name: Set("Ada"), Phone: Set("555 0101")},
		"kinds[1]": {Name: Set("Ada"), Email: Set("a@b.example"), Kinds: Set([]string{"moved", "gossip"})},
		"name":     {Email: Set("a@b.example")},
	} {
		_, err := b.AddRecipient(t.Context(), b.farm, in)
		found := problems(t, err)
		assert.Len(t, found, 1, field)
		assert.Contains(t, found, field)
	}
	_, err := b.AddRecipient(t.Context(), b.farm, RecipientInput{Name: Set("Ada"), Email: Set("a@b.example"), QuietFrom: Set("21:30"), QuietTo: Set("21:30")})
	assert.Contains(t, problems(t, err)["quiet_to"], "must differ")
}

func TestReadingsAndFindingsAreChecked(t *testing.T) {
	b := newBench(t)
	f := b.field("North")
	bed := b.bed(f, BedInput{})
	reading := func(change func(*ReadingInput)) ReadingInput {
		in := ReadingInput{FieldID: Set(f.ID), At: Set(noon), Quantity: Set("air_c"), Value: Set(-4.0)}
		change(&in)
		return in
	}
	right := reading(func(*ReadingInput) {})
	for field, in := range map[string]ReadingInput{
		"depth_cm": reading(func(in *ReadingInput) { in.DepthCm = Set(5.0) }),
		"value":    reading(func(in *ReadingInput) { in.Value = Set(-71.0) }),
		"quantity": reading(func(in *ReadingInput) { in.Quantity = Set("air_f") }),
		"at":       reading(func(in *ReadingInput) { in.At = Set(noon.Add(2 * time.Hour)) }),
		"field_id": reading(func(in *ReadingInput) { in.FieldID = Set(f.ID + 1) }),
	} {
		_, err := b.AddReadings(t.Context(), b.farm, []ReadingInput{in})
		assert.Contains(t, problems(t, err), field, "alone")
		_, err = b.AddReadings(t.Context(), b.farm, []ReadingInput{right, in})
		assert.Contains(t, problems(t, err), "readings[1]."+field, "among others")
	}
	_, err := b.AddReadings(t.Context(), b.farm, []ReadingInput{reading(func(in *ReadingInput) { in.Quantity = Set("soil_c") })})
	assert.Contains(t, problems(t, err)["depth_cm"], "is missing")
	for _, n := range []int{0, MaxReadings + 1} {
		_, err := b.AddReadings(t.Context(), b.farm, make([]ReadingInput, n))
		assert.Contains(t, problems(t, err), "readings")
	}
	kept, err := b.store.Readings(t.Context(), b.farm, f.ID, noon.AddDate(-1, 0, 0), noon.AddDate(1, 0, 0))
	require.NoError(t, err)
	assert.Empty(t, kept, "all or none")

	for field, in := range map[string]FindingInput{
		"night":         {BedID: Set(bed.ID), Night: Set("2026-11-14"), LostFraction: Set(0.1)}, // tonight
		"bed_id":        {BedID: Set(bed.ID + 1), Night: Set("2026-11-13"), LostFraction: Set(0.1)},
		"lost_fraction": {BedID: Set(bed.ID), Night: Set("2026-11-13"), LostFraction: Set(30.0)},
	} {
		_, err := b.AddFinding(t.Context(), b.farm, in)
		assert.Contains(t, problems(t, err), field)
	}
}

func TestLotsAreChecked(t *testing.T) {
	b := newBench(t)
	r, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Set("Cellar"), Kind: Set("cellar"), Temperature: Set(2.0)})
	require.NoError(t, err)
	lot := func(change func(*LotInput)) LotInput {
		in := LotInput{RoomID: Set(r.ID), Crop: Set("beet"), Kg: Set(5.0), HarvestedAt: Set(noon.AddDate(0, 0, -2))}
		change(&in)
		return in
	}
	for field, in := range map[string]LotInput{
		"kg":          lot(func(in *LotInput) { in.Kg = Set(0.0) }),
		"ended_at":    lot(func(in *LotInput) { in.EndedAt = Set(noon) }),
		"cured_at":    lot(func(in *LotInput) { in.CuredAt = Set(noon.AddDate(0, 0, -3)) }),
		"room_id":     lot(func(in *LotInput) { in.RoomID = Set(r.ID + 1) }),
		"from_bed_id": lot(func(in *LotInput) { in.FromBedID = Set(int64(99)) }),
		"container":   lot(func(in *LotInput) { in.Container = Set("sack") }),
	} {
		_, err := b.AddLot(t.Context(), b.farm, in)
		found := problems(t, err)
		assert.Len(t, found, 1, field)
		assert.Contains(t, found, field)
	}
	l, err := b.AddLot(t.Context(), b.farm, lot(func(in *LotInput) { in.CuredAt = in.HarvestedAt }))
	require.NoError(t, err, "cured as it was harvested")
	l, err = b.ChangeLot(t.Context(), b.farm, l.ID, Seen{}, LotInput{Kg: Set(0.0)})
	require.NoError(t, err)
	at, ended := l.EndedAt.Get()
	assert.True(t, ended && at.Equal(noon), "nothing left ends a lot")
	require.NoError(t, b.RemoveRoom(t.Context(), b.farm, r.ID, Seen{}))
	_, err = b.AddLot(t.Context(), b.farm, lot(func(*LotInput) {}))
	assert.Contains(t, problems(t, err)["room_id"], "has been removed")
}
