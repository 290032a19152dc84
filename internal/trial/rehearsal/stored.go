package rehearsal

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/service/commands"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// storedLot is a harvest of the story's summer and autumn.
type storedLot struct {
	room, crop, container string
	kg                    float64
	harvested, cured      farm.Day
}

// What lay in the rooms before the snap. The squash lies too cool and the radishes
// do not last, so that the pages have something to say.
var harvests = []storedLot{
	{room: "Barn loft", crop: "onion", container: "crate", kg: 140, harvested: "2025-08-22", cured: "2025-09-08"},
	{room: "Chest freezer", crop: "tomato", container: "bag", kg: 35, harvested: "2025-09-12"},
	{room: "Barn loft", crop: "shallot", container: "hung", kg: 18, harvested: "2025-10-20"},
	{room: "Barn loft", crop: "winter-squash", container: "open", kg: 80, harvested: "2025-09-28"},
	{room: "Root room", crop: "beet", container: "tote", kg: 60, harvested: "2025-10-08"},
	{room: "Root room", crop: "carrot", container: "tote", kg: 110, harvested: "2025-10-21"},
	{room: "Wash-house fridge", crop: "radish", container: "bag", kg: 14, harvested: "2025-10-30"},
}

// lots enters what had been harvested by now.
func lots(ctx context.Context, d commands.Service, id int64) error {
	rooms, err := d.Books().Rooms(ctx, id, store.Page{})
	if err != nil {
		return err
	}
	for _, h := range harvests {
		at := h.harvested.Noon(time.UTC)
		room := slices.IndexFunc(rooms, func(r farm.Room) bool { return r.Name == h.room })
		if at.After(d.Now()) || room < 0 {
			continue
		}
		in := commands.LotInput{RoomID: commands.Set(rooms[room].ID), Crop: commands.Set(h.crop), Kg: commands.Set(h.kg),
			HarvestedAt: commands.Set(at), Container: commands.Set(h.container)}
		if h.cured != "" && h.cured.Noon(time.UTC).Before(d.Now()) {
			in.CuredAt = commands.Set(h.cured.Noon(time.UTC))
		}
		if _, err := d.AddLot(ctx, id, in); err != nil {
			return fmt.Errorf("lot of %s: %w", h.crop, err)
		}
	}
	return nil
}

// roomFor is the room that a harvest goes into: one that suits and has room, else
// none.
func (p *Player) roomFor(ctx context.Context, bed farm.Bed) (commands.Optional[int64], error) {
	stores, err := p.Stage.Service.Plans.Stores(ctx, bed.FarmID)
	if err != nil {
		return commands.Optional[int64]{}, err
	}
	table, err := keeping.Default()
	if err != nil {
		return commands.Optional[int64]{}, err
	}
	c, err := p.Stage.Service.Catalogue.Find(bed.Crop)
	if err != nil {
		return commands.Optional[int64]{}, err
	}
	entry, err := table.Entry(bed.Crop, c.Family)
	if err != nil {
		return commands.Optional[int64]{}, nil // nobody knows how it keeps: it is sold
	}
	for _, kind := range entry.RoomsAtHarvest() {
		for _, r := range stores {
			if r.Kind == kind && r.FreeKg.Else(0) >= bed.StandingKg.Else(0) {
				return commands.Set(r.ID), nil
			}
		}
	}
	return commands.Optional[int64]{}, nil
}

// keepers does the day's round of the stores, once each day of the story, and
// tells what was said of lots and rooms since. What should be used is used.
func (p *Player) keepers(ctx context.Context, sum *Summary) error {
	s := p.Stage
	if day := farm.DayOf(s.Clock.Now(), time.UTC); day != p.stored {
		p.stored = day
		if err := s.Service.Letters.Stored(ctx); err != nil {
			return err
		}
		if err := s.Service.Drain(ctx); err != nil {
			return err
		}
	}
	for _, kind := range []string{notice.UseBy, notice.RoomFull} {
		told, err := s.Service.Book.Notices(ctx, s.FarmID, store.NoticeFilter{Kind: kind, From: s.Clock.Now()})
		if err != nil {
			return err
		}
		slices.Reverse(told)
		for _, n := range told {
			if p.heard[n.ID] {
				continue
			}
			p.heard[n.ID] = true
			if err := p.tell(n, sum); err != nil {
				return err
			}
			if err := p.use(ctx, n); err != nil {
				return err
			}
		}
	}
	return nil
}

// use ends a lot that should be used; one that has only cured is left.
func (p *Player) use(ctx context.Context, n store.Notice) error {
	var f notice.Facts
	if err := decode(n.Facts, &f); err != nil {
		return err
	}
	number, ok := strings.CutPrefix(n.Subject, "lot:")
	if !ok || f.Lot == nil || f.Lot.Clock == notice.Cured {
		return nil
	}
	id, err := strconv.ParseInt(number, 10, 64)
	if err != nil {
		return fmt.Errorf("notice %d: %w", n.ID, err)
	}
	return p.Stage.Service.Commands.EndLot(ctx, n.FarmID, id, unit.None[int64]())
}
