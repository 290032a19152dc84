package commands

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func TestATokenIsShownOnceAndKeptAsItsHash(t *testing.T) {
	b := newBench(t)
	made, err := b.MakeToken(t.Context(), " Valley Farm ", farm.ScopeRead)
	require.NoError(t, err)
	assert.True(t, made.NewFarm)
	assert.Equal(t, "Valley Farm", made.Farm.Name)
	assert.Regexp(t, `^ws_[a-z2-7]{32}$`, made.Token) // 20 bytes in base32, RFC 4648
	kept, err := b.Authenticate(t.Context(), made.Token)
	require.NoError(t, err)
	assert.Equal(t, farm.ScopeRead, kept.Scope)
	assert.Equal(t, made.Farm.ID, kept.FarmID)
	assert.NotContains(t, kept.Hash, made.Token)

	again, err := b.MakeToken(t.Context(), "Valley Farm", farm.ScopeWrite)
	require.NoError(t, err)
	assert.False(t, again.NewFarm)
	assert.Equal(t, made.Farm.ID, again.Farm.ID)
	assert.NotEqual(t, made.Token, again.Token)

	_, err = b.Authenticate(t.Context(), made.Token+"x")
	require.ErrorIs(t, err, store.ErrNotFound)
	require.NoError(t, b.RevokeToken(t.Context(), made.Token))
	_, err = b.Authenticate(t.Context(), made.Token)
	require.ErrorIs(t, err, store.ErrNotFound)

	_, err = b.MakeToken(t.Context(), " ", "admin")
	got := problems(t, err)
	assert.Contains(t, got["farm"], "name")
	assert.Contains(t, got["scope"], "read, write")
}

// SHA-256 of "abc": FIPS 180-4 example, from memory.
func TestHashTokenIsSHA256(t *testing.T) {
	assert.Equal(t, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", HashToken("abc"))
}

func TestAFarmBeginsWithTheDefaults(t *testing.T) {
	b := newBench(t)
	f, err := b.store.Farm(t.Context(), b.farm)
	require.NoError(t, err)
	assert.Equal(t, farm.DefaultNoticeLead, f.NoticeLead)
	assert.Equal(t, farm.DefaultMovedStep, f.MovedStep)
	assert.Equal(t, farm.DefaultBlindAfter, f.BlindAfter)
	assert.NotEmpty(t, f.CalendarSecret)
}

func TestAChangeTouchesOnlyWhatIsGiven(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.field("North"), BedInput{Variety: Set("Rainbow"), StandingKg: Set(80.0), SownOn: Set("2026-07-20")})
	got, err := b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{StandingKg: Clear[float64](), Name: Set("B5")})
	require.NoError(t, err)
	want := bed
	want.StandingKg, want.Name, want.Version = unit.None[float64](), "B5", bed.Version+1
	assert.Equal(t, want, got)
	stored, err := b.store.Bed(t.Context(), b.farm, bed.ID)
	require.NoError(t, err)
	assert.Equal(t, want, stored)
}

func TestCropsAreKeptUnderTheirKey(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.field("North"), BedInput{Crop: Set("Kale")})
	assert.Equal(t, "kale-curly", bed.Crop)
}

func TestStrawIsRememberedByDay(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.field("North"), BedInput{MulchCm: Set(5.0)})
	assert.Equal(t, []farm.Mulch{{Cm: 5}}, bed.Mulches, "a new bed has had it since before anything is known")
	change := func(cm float64) farm.Bed {
		got, err := b.ChangeBed(t.Context(), b.farm, bed.ID, Seen{}, BedInput{MulchCm: Set(cm)})
		require.NoError(t, err)
		return got
	}
	assert.Equal(t, []farm.Mulch{{Cm: 5}}, change(5).Mulches, "the same depth is no change")
	// 03:00 UTC on the 15th is still the 14th in Chicago.
	b.clock = time.Date(2026, 11, 15, 3, 0, 0, 0, time.UTC)
	change(10)
	assert.Equal(t, []farm.Mulch{{Cm: 5}, {Cm: 15, On: "2026-11-14"}}, change(15).Mulches, "of two on one day the last counts")
	b.clock = time.Date(2026, 11, 16, 18, 0, 0, 0, time.UTC)
	got := change(0)
	assert.Equal(t, []farm.Mulch{{Cm: 5}, {Cm: 15, On: "2026-11-14"}, {Cm: 0, On: "2026-11-16"}}, got.Mulches)
	assert.Equal(t, 5.0, got.MulchOn("2026-11-13"))
	assert.Equal(t, 15.0, got.MulchOn("2026-11-15"))
	assert.Equal(t, 0.0, got.MulchOn("2026-11-16"))
}

// Whatever changes a verdict asks for a new one, in the same transaction.
func TestChangesAskForANewVerdict(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	unplaced := b.field("South")
	assert.Equal(t, []store.Job{{FieldID: unplaced.ID}}, b.jobs())
	f := b.placed("North")
	judge := []store.Job{{CellID: f.CellID}}
	bed := b.bed(f, BedInput{})
	assert.Equal(t, judge, b.jobs(), "new bed")
	_, err := b.ChangeBed(ctx, b.farm, bed.ID, Seen{}, BedInput{CostLoss: Set(0.3)})
	require.NoError(t, err)
	assert.Equal(t, judge, b.jobs(), "changed bed")
	_, err = b.AddReadings(ctx, b.farm, []ReadingInput{{FieldID: Set(f.ID), At: Set(noon), Quantity: Set(farm.ReadAirMin), Value: Set(-4.0)}})
	require.NoError(t, err)
	assert.Equal(t, judge, b.jobs(), "reading")
	_, err = b.AddFinding(ctx, b.farm, FindingInput{BedID: Set(bed.ID), Night: Set("2026-11-13"), LostFraction: Set(0.0)})
	require.NoError(t, err)
	assert.Equal(t, judge, b.jobs(), "finding")
	_, err = b.ChangeField(ctx, b.farm, f.ID, Seen{}, FieldInput{Soil: Set("sand")})
	require.NoError(t, err)
	assert.Equal(t, judge, b.jobs(), "soil")
	_, err = b.ChangeField(ctx, b.farm, f.ID, Seen{}, FieldInput{Latitude: Set(46.6)})
	require.NoError(t, err)
	assert.Equal(t, []store.Job{{FieldID: f.ID}}, b.jobs(), "another place")
	moved, err := b.Store.Field(ctx, b.farm, f.ID)
	require.NoError(t, err)
	assert.Zero(t, moved.CellID, "it must be placed anew")
	require.NoError(t, b.Store.Write(ctx, func(w store.Writer) error { return w.PlaceField(ctx, f.ID, f.CellID) }))
	_, err = b.ChangeFarm(ctx, b.farm, Seen{}, FarmInput{WindChillLimit: Set(-15.0)})
	require.NoError(t, err)
	assert.ElementsMatch(t, []store.Job{{CellID: f.CellID}, {FieldID: unplaced.ID}}, b.jobs(), "hours in which people can work")
	require.NoError(t, b.ClearBed(ctx, b.farm, bed.ID, Seen{}))
	assert.Equal(t, judge, b.jobs(), "cleared bed")
	require.NoError(t, b.ClearBed(ctx, b.farm, bed.ID, Seen{}))
	assert.Empty(t, b.jobs(), "cleared twice")
	_, err = b.ChangeBed(ctx, b.farm, bed.ID, Seen{}, BedInput{CostLoss: Set(3.0)})
	var refused *Refused
	require.ErrorAs(t, err, &refused)
	assert.Empty(t, b.jobs(), "refused")
}

func TestOnlyTheVersionThatWasSeenIsChanged(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	f := b.field("North")
	bed := b.bed(f, BedInput{})
	room, err := b.AddRoom(ctx, b.farm, RoomInput{Name: Set("Cellar"), Kind: Set(farm.Cellar), Temperature: Set(4.0)})
	require.NoError(t, err)
	lot, err := b.AddLot(ctx, b.farm, LotInput{RoomID: Set(room.ID), Crop: Set("carrot"), Kg: Set(5.0), HarvestedAt: Set(noon)})
	require.NoError(t, err)
	person, err := b.AddRecipient(ctx, b.farm, RecipientInput{Name: Set("A"), Email: Set("a@example.org")})
	require.NoError(t, err)
	stale := unit.Some(int64(77))
	_, err1 := b.ChangeFarm(ctx, b.farm, stale, FarmInput{})
	_, err2 := b.ChangeField(ctx, b.farm, f.ID, stale, FieldInput{})
	_, err3 := b.ChangeBed(ctx, b.farm, bed.ID, stale, BedInput{})
	_, err4 := b.ChangeRoom(ctx, b.farm, room.ID, stale, RoomInput{})
	_, err5 := b.ChangeLot(ctx, b.farm, lot.ID, stale, LotInput{})
	_, err6 := b.ChangeRecipient(ctx, b.farm, person.ID, stale, RecipientInput{})
	for i, err := range []error{err1, err2, err3, err4, err5, err6,
		b.RemoveField(ctx, b.farm, f.ID, stale), b.ClearBed(ctx, b.farm, bed.ID, stale), b.RemoveRoom(ctx, b.farm, room.ID, stale),
		b.EndLot(ctx, b.farm, lot.ID, stale), b.RemoveRecipient(ctx, b.farm, person.ID, stale)} {
		require.ErrorIs(t, err, store.ErrChanged, i)
	}
}

func TestEntriesEndInOrder(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	f := b.field("North")
	bed := b.bed(f, BedInput{})
	room, err := b.AddRoom(ctx, b.farm, RoomInput{Name: Set("Cellar"), Kind: Set(farm.Cellar), Temperature: Set(4.0)})
	require.NoError(t, err)
	lot, err := b.AddLot(ctx, b.farm, LotInput{RoomID: Set(room.ID), Crop: Set("carrot"), Kg: Set(5.0), HarvestedAt: Set(noon)})
	require.NoError(t, err)
	assert.Equal(t, DefaultContainer, lot.Container)
	var refused *Refused
	require.ErrorAs(t, b.RemoveField(ctx, b.farm, f.ID, Seen{}), &refused)
	require.ErrorAs(t, b.RemoveRoom(ctx, b.farm, room.ID, Seen{}), &refused)
	sold, err := b.ChangeLot(ctx, b.farm, lot.ID, Seen{}, LotInput{Kg: Set(0.0)})
	require.NoError(t, err)
	assert.Equal(t, unit.Some(noon), sold.EndedAt, "nothing left: it has ended")
	require.NoError(t, b.EndLot(ctx, b.farm, lot.ID, Seen{}))
	require.NoError(t, b.ClearBed(ctx, b.farm, bed.ID, Seen{}))
	require.NoError(t, b.RemoveRoom(ctx, b.farm, room.ID, Seen{}))
	require.NoError(t, b.RemoveRoom(ctx, b.farm, room.ID, Seen{}))
	require.NoError(t, b.RemoveField(ctx, b.farm, f.ID, Seen{}))
	_, err = b.AddBed(ctx, b.farm, BedInput{FieldID: Set(f.ID), Name: Set("B9"), Crop: Set("chard")})
	assert.Contains(t, problems(t, err)["field_id"], "removed")
	_, err = b.AddLot(ctx, b.farm, LotInput{RoomID: Set(room.ID), Crop: Set("carrot"), Kg: Set(5.0), HarvestedAt: Set(noon)})
	assert.Contains(t, problems(t, err)["room_id"], "removed")
	kept, err := b.store.Bed(ctx, b.farm, bed.ID)
	require.NoError(t, err, "history stays")
	assert.True(t, kept.ClearedAt.Known())
}

// E.164 numbers after ITU-T E.164; the numbers are of the ranges set aside for
// fiction (North America 555-01xx; Ofcom's drama numbers), from memory.
func TestPhoneNumbersAreKeptAsE164(t *testing.T) {
	b := newBench(t)
	for given, want := range map[string]string{
		"+1 (207) 555-0123": "+12075550123", "+12075550123": "+12075550123", "+44 7700 900123": "+447700900123",
	} {
		r, err := b.AddRecipient(t.Context(), b.farm, RecipientInput{Name: Set("A"), Phone: Set(given)})
		require.NoError(t, err, given)
		assert.Equal(t, want, r.Phone)
		assert.Equal(t, "en", r.Language, "like the farm")
	}
	for _, wrong := range []string{"207 555 0123", "+1", "phone", "+999999999999999999", ""} {
		_, err := b.AddRecipient(t.Context(), b.farm, RecipientInput{Name: Set("A"), Phone: Set(wrong)})
		assert.Contains(t, problems(t, err), "phone", wrong)
	}
}

func TestAnotherNumberIsNotMuted(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	r, err := b.AddRecipient(ctx, b.farm, RecipientInput{Name: Set("A"), Phone: Set("+12075550123")})
	require.NoError(t, err)
	r.MutedSMS = true
	require.NoError(t, b.store.Write(ctx, func(w store.Writer) error { return w.UpdateRecipient(ctx, r) }))
	var refused *Refused
	_, err = b.SendTest(ctx, b.farm, r.ID)
	require.ErrorAs(t, err, &refused)
	got, err := b.ChangeRecipient(ctx, b.farm, r.ID, Seen{}, RecipientInput{Name: Set("B")})
	require.NoError(t, err)
	assert.True(t, got.MutedSMS)
	got, err = b.ChangeRecipient(ctx, b.farm, r.ID, Seen{}, RecipientInput{Phone: Set("+12075550124")})
	require.NoError(t, err)
	assert.False(t, got.MutedSMS)
	_, err = b.ChangeRecipient(ctx, b.farm, r.ID, Seen{}, RecipientInput{Phone: Clear[string]()})
	assert.Contains(t, problems(t, err)["email"], "reach")
}

func TestATestMessageGoesOutOnEveryChannel(t *testing.T) {
	b := newBench(t)
	r, err := b.AddRecipient(t.Context(), b.farm, RecipientInput{Name: Set("A"), Phone: Set("+12075550123"), Email: Set("a@example.org")})
	require.NoError(t, err)
	first, err := b.SendTest(t.Context(), b.farm, r.ID)
	require.NoError(t, err)
	second, err := b.SendTest(t.Context(), b.farm, r.ID)
	require.NoError(t, err)
	require.Len(t, first, 2)
	assert.NotEqual(t, first[0].Key, second[0].Key)
	jobs := b.jobs()
	assert.Len(t, jobs, 4)
	for _, m := range append(first, second...) {
		kept, err := b.store.Message(t.Context(), m.ID)
		require.NoError(t, err)
		assert.True(t, kept.Test)
		assert.Equal(t, store.Queued, kept.State)
		assert.Contains(t, jobs, store.Job{MessageID: m.ID})
	}
}

// Numbers that are no numbers are outside of every range.
func TestNoNumberIsInsideARange(t *testing.T) {
	for key, r := range Limits {
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			assert.NotEmpty(t, r.Refusal(v), "%s takes %v", key, v)
		}
		assert.NotEmpty(t, r.Refusal(r.Min-1), key)
		assert.NotEmpty(t, r.Refusal(r.Max+1), key)
		assert.Equal(t, r.OpenMin, !r.Refusal(r.Min).None(), key)
		assert.Equal(t, r.OpenMax, !r.Refusal(r.Max).None(), key)
		assert.Empty(t, r.Refusal((r.Min+r.Max)/2), key)
	}
}

func TestEveryRequiredMemberIsAMember(t *testing.T) {
	for noun, input := range map[string]any{
		"field": FieldInput{}, "bed": BedInput{}, "recipient": RecipientInput{}, "room": RoomInput{}, "lot": LotInput{},
		"reading": ReadingInput{}, "finding": FindingInput{}, "answer": AnswerInput{},
	} {
		have := members(input)
		for _, name := range Required[noun] {
			assert.Contains(t, have, name, noun)
		}
		var c check
		c.needs(noun, input)
		assert.Len(t, c.problems, len(Required[noun]), noun)
	}
	assert.Len(t, Required, 8)
}

func TestGivenTellsAbsentFromEmpty(t *testing.T) {
	var in BedInput
	require.NoError(t, json.Unmarshal([]byte(`{"name":"B4","standing_kg":null}`), &in))
	assert.True(t, in.Name.Touched())
	assert.True(t, in.StandingKg.Cleared())
	assert.False(t, in.Crop.Touched())
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SampledFrom([]Optional[float64]{{}, Clear[float64](), Set(rapid.Float64().Draw(t, "v"))}).Draw(t, "given")
		b, err := json.Marshal(BedInput{StandingKg: want})
		require.NoError(t, err)
		var back BedInput
		require.NoError(t, json.Unmarshal(b, &back))
		assert.Equal(t, want, back.StandingKg)
	})
}

func TestAFailureInsideATransactionUndoesEverything(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	stop := errors.New("stop")
	b.jobs()
	err := b.store.Write(ctx, func(w store.Writer) error {
		in := b.Within(w)
		_, err := in.AddField(ctx, b.farm, FieldInput{Name: Set("North"), Latitude: Set(46.0), Longitude: Set(-92.0)})
		require.NoError(t, err)
		fields, err := in.Books().Fields(ctx, b.farm, store.Page{})
		require.NoError(t, err)
		assert.Len(t, fields, 1, "seen inside")
		return stop
	})
	require.ErrorIs(t, err, stop)
	fields, err := b.store.Fields(ctx, b.farm, store.Page{})
	require.NoError(t, err)
	assert.Empty(t, fields)
	assert.Empty(t, b.jobs())
}

func TestWhatIf(t *testing.T) {
	q, err := WhatIfInput{Cover: Set("low_tunnel"), HarvestFraction: Set(0.5)}.Ask()
	require.NoError(t, err)
	assert.Equal(t, WhatIf{Cover: unit.Some("low_tunnel"), HarvestFraction: unit.Some(0.5)}, q)
	_, err = WhatIfInput{HarvestFraction: Set(50.0)}.Ask()
	assert.Contains(t, problems(t, err)["harvest_fraction"], "half is 0.5")
}

func TestInvalidSaysEverything(t *testing.T) {
	err := &Invalid{[]Problem{{Field: "kg", Reason: reason("missing"), Line: 3}, {Field: "crop", Reason: reason("missing")}}}
	assert.Equal(t, "line 3, kg: is missing; crop: is missing", err.Error())
	assert.True(t, strings.HasPrefix(TokenPrefix, "ws"))
}
