package commands

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func (b *bench) notice(bedID int64, kind notice.Kind) int64 {
	b.Helper()
	var id int64
	require.NoError(b, b.store.Write(b.Context(), func(w store.Writer) (err error) {
		id, err = w.AddNotice(b.Context(), store.Notice{
			FarmID: b.farm, Subject: "s" + kind, BedID: bedID, Kind: kind, Night: "2026-11-16", IssuedAt: noon, Facts: []byte(`{}`),
		})
		return err
	}))
	return id
}

func (b *bench) answer(noticeID int64, in AnswerInput) Answered {
	b.Helper()
	out, err := b.Answer(b.Context(), b.farm, noticeID, 0, in)
	require.NoError(b, err)
	return out
}

func (b *bench) current(id int64) farm.Bed {
	b.Helper()
	bed, err := b.store.Bed(b.Context(), b.farm, id)
	require.NoError(b, err)
	return bed
}

func TestHarvestedTakesTheBedDown(t *testing.T) {
	for _, c := range []struct {
		name     string
		standing Optional[float64]
		kg       Optional[float64]
		left     unit.Maybe[float64]
		cleared  bool
	}{
		{"all of it", Set(80.0), Optional[float64]{}, unit.Some(0.0), true},
		{"a part", Set(80.0), Set(30.0), unit.Some(50.0), false},
		{"all by weight", Set(80.0), Set(80.0), unit.Some(0.0), true},
		{"more than was thought", Set(80.0), Set(95.0), unit.Some(0.0), true},
		{"a part of the unknown", Optional[float64]{}, Set(30.0), unit.None[float64](), false},
		{"all of the unknown", Optional[float64]{}, Optional[float64]{}, unit.Some(0.0), true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t)
			f := b.placed("North")
			bed := b.bed(f, BedInput{StandingKg: c.standing})
			id := b.notice(bed.ID, notice.HarvestBefore)
			b.jobs()
			out := b.answer(id, AnswerInput{Answer: Set(farm.Harvested), HarvestedKg: c.kg})
			assert.False(t, out.Repeat)
			got := b.current(bed.ID)
			assert.Equal(t, c.left, got.StandingKg)
			assert.Equal(t, c.cleared, got.ClearedAt.Known())
			assert.Equal(t, []store.Job{{CellID: f.CellID}}, b.jobs())
			told, err := b.store.Notice(t.Context(), b.farm, id)
			require.NoError(t, err)
			assert.Equal(t, farm.Harvested, told.Answer)
		})
	}
}

func TestTheSameAnswerTwiceIsHarmless(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.placed("North"), BedInput{StandingKg: Set(80.0)})
	id := b.notice(bed.ID, notice.HarvestBefore)
	in := AnswerInput{Answer: Set(farm.Harvested), HarvestedKg: Set(30.0)}
	first := b.answer(id, in)
	b.jobs()
	again := b.answer(id, in)
	assert.True(t, again.Repeat)
	assert.Equal(t, first.Answer, again.Answer)
	assert.Empty(t, b.jobs())
	assert.Equal(t, unit.Some(50.0), b.current(bed.ID).StandingKg)
	b.answer(id, AnswerInput{Answer: Set(farm.Harvested), HarvestedKg: Set(20.0)})
	b.answer(id, in)
	assert.Equal(t, unit.Some(0.0), b.current(bed.ID).StandingKg, "another answer in between: a harvest of its own")
}

func TestAHarvestCanBecomeALot(t *testing.T) {
	b := newBench(t)
	room, err := b.AddRoom(t.Context(), b.farm, RoomInput{Name: Set("Cellar"), Kind: Set(farm.Cellar), Temperature: Set(4.0)})
	require.NoError(t, err)
	bed := b.bed(b.placed("North"), BedInput{Crop: Set("carrot"), Variety: Set("Long"), StandingKg: Set(80.0)})
	id := b.notice(bed.ID, notice.HarvestBefore)
	out := b.answer(id, AnswerInput{Answer: Set(farm.Harvested), RoomID: Set(room.ID), Container: Set("tote")})
	lot, ok := out.Lot.Get()
	require.True(t, ok)
	assert.Equal(t, 80.0, lot.Kg)
	assert.Equal(t, "tote", lot.Container)
	assert.Equal(t, bed.ID, lot.FromBedID)
	assert.Equal(t, "carrot", lot.Crop)

	unknown := b.bed(b.placed("South"), BedInput{Crop: Set("carrot")})
	id = b.notice(unknown.ID, notice.LastCall)
	_, err = b.Answer(t.Context(), b.farm, id, 0, AnswerInput{Answer: Set(farm.Harvested), RoomID: Set(room.ID)})
	assert.Contains(t, problems(t, err)["harvested_kg"], "weight")
	_, err = b.Answer(t.Context(), b.farm, id, 0, AnswerInput{Answer: Set(farm.Harvested), HarvestedKg: Set(5.0), RoomID: Set(int64(99))})
	assert.Contains(t, problems(t, err)["room_id"], "no room 99")
	assert.False(t, b.current(unknown.ID).ClearedAt.Known())
	answers, err := b.store.Answers(t.Context(), b.farm, id)
	require.NoError(t, err)
	assert.Empty(t, answers, "nothing by halves")
}

func TestCoveredLaysACoverFromToday(t *testing.T) {
	for _, c := range []struct {
		name   string
		before []farm.Cover
		kind   Optional[string]
		lies   string
	}{
		{"nobody says with what", nil, Optional[string]{}, DefaultAnswerCover},
		{"with a heavy one", nil, Set("row_cover_heavy"), "row_cover_heavy"},
		{"one lies there already", []farm.Cover{{Kind: "low_tunnel", On: "2026-10-01"}}, Optional[string]{}, "low_tunnel"},
		{"another over it", []farm.Cover{{Kind: "low_tunnel", On: "2026-10-01"}}, Set("low_tunnel_fabric"), "low_tunnel_fabric"},
		{"one was taken off", []farm.Cover{{Kind: "low_tunnel", On: "2026-10-01", Off: "2026-11-01"}}, Optional[string]{}, DefaultAnswerCover},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t)
			in := BedInput{}
			if c.before != nil {
				in.Covers = Set(c.before)
			}
			bed := b.bed(b.placed("North"), in)
			b.answer(b.notice(bed.ID, notice.HarvestBefore), AnswerInput{Answer: Set(farm.Covered), Cover: c.kind})
			got := b.current(bed.ID)
			assert.Equal(t, c.lies, got.CoverOn("2026-11-14"))
			assert.Equal(t, c.lies, got.CoverOn("2026-12-14"))
		})
	}
}

func TestLeaveItIsQuietUntilTheNightIsOver(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.placed("North"), BedInput{})
	b.answer(b.notice(bed.ID, notice.HarvestBefore), AnswerInput{Answer: Set(farm.LeaveIt)})
	// The night of the 16th ends at noon on the 17th, Chicago: 18:00 UTC.
	assert.Equal(t, unit.Some(time.Date(2026, 11, 17, 18, 0, 0, 0, time.UTC)), b.current(bed.ID).QuietUntil)
}

func TestSeenChangesNothing(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.placed("North"), BedInput{})
	b.jobs()
	b.answer(b.notice(bed.ID, notice.HarvestBefore), AnswerInput{Answer: Set(farm.Seen)})
	assert.Equal(t, bed, b.current(bed.ID))
	assert.Empty(t, b.jobs())
}

func TestAnswersThatDoNotFit(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.placed("North"), BedInput{})
	about, blind := b.notice(bed.ID, notice.HarvestBefore), b.notice(0, notice.Blind)
	for _, c := range []struct {
		name         string
		notice       int64
		in           AnswerInput
		field, words string
	}{
		{"nothing", about, AnswerInput{}, "answer", "missing"},
		{"unknown", about, AnswerInput{Answer: Set("yes")}, "answer", "harvested, covered, leave_it, seen"},
		{"negative", about, AnswerInput{Answer: Set(farm.Harvested), HarvestedKg: Set(-1.0)}, "harvested_kg", "from 0"},
		{"weight of a cover", about, AnswerInput{Answer: Set(farm.Covered), HarvestedKg: Set(1.0)}, "harvested_kg", "harvested only"},
		{"cover of a harvest", about, AnswerInput{Answer: Set(farm.Harvested), Cover: Set("low_tunnel")}, "cover", "covered only"},
		{"unknown cover", about, AnswerInput{Answer: Set(farm.Covered), Cover: Set("tarp")}, "cover", "low_tunnel"},
		{"room of nothing", about, AnswerInput{Answer: Set(farm.Seen), RoomID: Set(int64(1))}, "room_id", "harvested only"},
		{"harvest of no bed", blind, AnswerInput{Answer: Set(farm.Harvested)}, "answer", "not about a bed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := b.Answer(t.Context(), b.farm, c.notice, 0, c.in)
			assert.Contains(t, problems(t, err)[c.field], c.words)
		})
	}
	assert.Equal(t, bed, b.current(bed.ID))
	b.answer(blind, AnswerInput{Answer: Set(farm.Seen)})
	_, err := b.Answer(t.Context(), b.farm, 99, 0, AnswerInput{Answer: Set(farm.Seen)})
	require.ErrorIs(t, err, store.ErrNotFound)
}

func TestAClearedBedStaysAsItIs(t *testing.T) {
	b := newBench(t)
	bed := b.bed(b.placed("North"), BedInput{StandingKg: Set(80.0)})
	id := b.notice(bed.ID, notice.HarvestBefore)
	require.NoError(t, b.ClearBed(t.Context(), b.farm, bed.ID, Seen{}))
	before := b.current(bed.ID)
	b.answer(id, AnswerInput{Answer: Set(farm.Harvested)})
	b.answer(id, AnswerInput{Answer: Set(farm.Covered)})
	b.answer(id, AnswerInput{Answer: Set(farm.LeaveIt)})
	assert.Equal(t, before, b.current(bed.ID))
}
