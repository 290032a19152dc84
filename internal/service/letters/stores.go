package letters

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/store"
)

// When a lot's end is told, own defaults: two weeks before its middle date, or a
// tenth of its keeping life before where that is less, but never so late that a
// daily look could miss it. It is told again when the date has moved by more
// than a week.
const (
	useByLead  = 14 * 24 * time.Hour
	useByShare = 0.1
	useByLeast = 36 * time.Hour
	useByMoved = 7 * 24 * time.Hour
)

// When a room counts as full, and when that is over; shares of its capacity, own
// defaults.
const (
	roomFull  = 0.95
	roomLoose = 0.85
)

// Kinds of memos on what was told about lots and rooms.
const (
	useByMemo    = "use-by"
	roomFullMemo = "room-full"
)

// lotTold is what was told of a lot.
type lotTold struct {
	UseBy    time.Time `json:"use_by"` // the middle date told last; zero: none yet
	Cured    bool      `json:"cured"`  // that it is cured has been told
	Revision int       `json:"revision"`
}

// roomTold is whether a room is known to be full.
type roomTold struct {
	Full     bool `json:"full"`
	Revision int  `json:"revision"`
}

func (w Writer) plans() plan.Reader {
	return plan.Reader{Books: w.Store.Reader, Catalogue: w.Catalogue, Now: w.Now}
}

// Stored tells of lots that should be used and of rooms that are full, on every
// farm. It is meant to be called once a day.
func (w Writer) Stored(ctx context.Context) error { return w.eachFarm(ctx, w.storesOf(ctx)) }

func (w Writer) storesOf(ctx context.Context) func(farm.Farm) error {
	return func(f farm.Farm) error {
		rooms, err := w.plans().Stores(ctx, f.ID)
		if err != nil || len(rooms) == 0 {
			return err
		}
		return w.Store.Write(ctx, func(tx store.Writer) error {
			t, err := w.teller(ctx, tx, f)
			if err != nil {
				return err
			}
			for _, r := range rooms {
				if err := t.rooms(ctx, r); err != nil {
					return err
				}
			}
			return t.send(ctx)
		})
	}
}

// RoomFilled tells, inside the transaction that changed its load, when a room
// has become full.
func (w Writer) RoomFilled(ctx context.Context, tx store.Writer, farmID, roomID int64) error {
	f, err := tx.Farm(ctx, farmID)
	if err != nil {
		return fmt.Errorf("farm %d: %w", farmID, err)
	}
	room, err := tx.Room(ctx, farmID, roomID)
	if err != nil {
		return fmt.Errorf("room %d: %w", roomID, err)
	}
	lots, err := tx.Lots(ctx, farmID, store.Page{})
	if err != nil {
		return fmt.Errorf("lots of farm %d: %w", farmID, err)
	}
	kg := 0.0
	for _, l := range lots {
		if l.RoomID == roomID {
			kg += l.Kg
		}
	}
	t, err := w.teller(ctx, tx, f)
	if err != nil {
		return err
	}
	if err := t.room(ctx, room, kg); err != nil {
		return err
	}
	return t.send(ctx)
}

// storeTeller gathers what is to be told of one farm's stores.
type storeTeller struct {
	tx    store.Writer
	farm  farm.Farm
	zone  *time.Location
	now   time.Time
	found []announce.Addressed
}

func (w Writer) teller(ctx context.Context, tx store.Writer, f farm.Farm) (*storeTeller, error) {
	zone, err := store.ZoneOf(ctx, tx, f)
	return &storeTeller{tx: tx, farm: f, zone: zone, now: w.Now()}, err
}

func (t *storeTeller) rooms(ctx context.Context, r plan.Room) error {
	for _, x := range r.Lots {
		if err := t.lot(ctx, x, r); err != nil {
			return err
		}
	}
	return t.room(ctx, r.Room, r.Kg)
}

func (t *storeTeller) lot(ctx context.Context, x plan.Lot, r plan.Room) error {
	if x.Why != "" {
		return nil
	}
	owner := fmt.Sprintf("lot:%d", x.ID)
	var told lotTold
	if err := store.Recall(ctx, t.tx.Reader, owner, useByMemo, &told); err != nil {
		return err
	}
	clock, due := t.dueOf(x, r, told)
	if !due {
		return nil
	}
	told.Revision++
	if clock == notice.Cured {
		told.Cured = true
	} else {
		told.UseBy = x.UseBy.P50
	}
	facts := notice.Facts{Kind: notice.UseBy, Crop: x.Crop, Titles: x.Titles, Cautions: x.Cautions, Variety: x.Variety, Lot: &notice.LotFacts{
		ID: x.ID, Kg: x.Kg, Room: r.Name, UseBy: x.UseBy.P50, Early: x.UseBy.P10, Clock: clock}}
	return t.tell(ctx, owner, told.Revision, facts, useByMemo, told)
}

// dueOf tells whether a lot is to be told of, and why.
func (t *storeTeller) dueOf(x plan.Lot, r plan.Room, told lotTold) (clock string, due bool) {
	if x.Cures && x.Cured && !x.CuredAt.Known() && r.Kind == farm.Airy && !told.Cured {
		return notice.Cured, true
	}
	lead := max(useByLeast, min(useByLead, time.Duration(useByShare*float64(x.Life()))))
	if x.UseBy.P50.Sub(t.now) > lead {
		return "", false
	}
	moved := x.UseBy.P50.Sub(told.UseBy).Abs() > useByMoved
	return clockOf(x, r), told.UseBy.IsZero() || moved
}

// clockOf names what ends the lot in the words of a notice.
func clockOf(x plan.Lot, r plan.Room) string {
	switch {
	case x.UseBy.Clock == keeping.Drying:
		return "water"
	case x.UseBy.Clock == keeping.Frozen:
		return "frozen"
	case x.UseBy.Clock == keeping.Thawed:
		return "thawed"
	case !x.Cured:
		return "curing"
	case r.Kind == farm.Ripening:
		return "ripening"
	}
	return "ageing"
}

func (t *storeTeller) room(ctx context.Context, r farm.Room, kg float64) error {
	owner := fmt.Sprintf("room:%d", r.ID)
	var told roomTold
	if err := store.Recall(ctx, t.tx.Reader, owner, roomFullMemo, &told); err != nil {
		return err
	}
	capacity, known := r.CapacityKg.Get()
	share := 0.0
	if known {
		share = kg / capacity
	}
	switch {
	case told.Full && share < roomLoose:
		told.Full = false
		return store.Remember(ctx, t.tx, owner, roomFullMemo, told, t.now)
	case told.Full || share < roomFull:
		return nil
	}
	told.Full, told.Revision = true, told.Revision+1
	facts := notice.Facts{Kind: notice.RoomFull, Room: &notice.RoomFacts{ID: r.ID, Name: r.Name, Kg: kg, CapacityKg: capacity}}
	return t.tell(ctx, owner, told.Revision, facts, roomFullMemo, told)
}

// tell writes the notice together with the memo that it has been told.
func (t *storeTeller) tell(ctx context.Context, subject string, revision int, facts notice.Facts, memo string, told any) error {
	facts.Farm, facts.Zone, facts.Night = t.farm.Name, t.zone.String(), farm.DayOf(t.now, t.zone)
	n, ok, err := announce.Write(ctx, t.tx, announce.Due{Owner: t.farm, Zone: t.zone, Facts: facts, Notice: store.Notice{
		FarmID: t.farm.ID, Subject: subject, Kind: facts.Kind, Night: facts.Night, Revision: revision, IssuedAt: t.now}})
	if err != nil {
		return err
	}
	if ok {
		t.found = append(t.found, announce.Addressed{Notice: n, Owner: t.farm, Zone: t.zone})
	}
	return store.Remember(ctx, t.tx, subject, memo, told, t.now)
}

// send puts everything found into one message a recipient and channel.
func (t *storeTeller) send(ctx context.Context) error {
	return announce.Address(ctx, t.tx, t.found, t.now)
}
