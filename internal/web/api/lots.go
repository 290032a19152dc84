package api

import (
	"context"
	"net/http"
	"time"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/unit"
)

// Lot is one harvest of one crop in a room.
type Lot struct {
	ID          int64                 `json:"id"`
	RoomID      int64                 `json:"room_id"`
	Crop        string                `json:"crop"`
	Variety     string                `json:"variety,omitempty"`
	Kg          float64               `json:"kg" doc:"What is left, kg"`
	HarvestedAt time.Time             `json:"harvested_at"`
	Container   string                `json:"container"`
	CuredAt     unit.Maybe[time.Time] `json:"cured_at,omitzero"`
	FromBedID   int64                 `json:"from_bed_id,omitempty"`
	CreatedAt   time.Time             `json:"created_at"`
	EndedAt     unit.Maybe[time.Time] `json:"ended_at,omitzero" doc:"Sold out, eaten or spoiled"`
	Version     int64                 `json:"version"`
}

func lotView(l farm.Lot) Lot {
	return Lot{
		ID: l.ID, RoomID: l.RoomID, Crop: l.Crop, Variety: l.Variety, Kg: l.Kg, HarvestedAt: l.HarvestedAt.UTC(),
		Container: l.Container, CuredAt: utc(l.CuredAt), FromBedID: l.FromBedID, CreatedAt: l.CreatedAt.UTC(),
		EndedAt: utc(l.EndedAt), Version: l.Version,
	}
}

// NewLot is a lot to be made.
type NewLot commands.LotInput

func (s *service) lotRoutes() {
	handle(s, op(http.MethodGet, "/v1/lots", "list-lots", "store", "Lots that are kept"), s.listLots)
	handle(s, op(http.MethodPost, "/v1/lots", "add-lot", "store", "Enter a lot"), s.addLot)
	handle(s, op(http.MethodGet, "/v1/lots/{id}", "get-lot", "store", "One lot"), s.getLot)
	handle(s, op(http.MethodPatch, "/v1/lots/{id}", "change-lot", "store", "Change a lot: sold (kg), moved (room_id), cured, ended"), s.changeLot)
	handle(s, op(http.MethodDelete, "/v1/lots/{id}", "end-lot", "store", "End a lot: nothing is left of it, its history stays"), s.endLot)
}

func (s *service) listLots(ctx context.Context, farmID int64, in *Paging) (*listed[Lot], error) {
	lots, err := s.Commands.Store.Lots(ctx, farmID, in.ask())
	if err != nil {
		return nil, err
	}
	return listOf(*in, "/v1/lots", "", lots, func(l farm.Lot) int64 { return l.ID }, lotView), nil
}

func (s *service) addLot(ctx context.Context, farmID int64, in *post[NewLot]) (*made[Lot], error) {
	return once(ctx, s, farmID, in.OnceKey, []any{"/v1/lots", in.Body}, func(d commands.Service) (made[Lot], error) {
		l, err := d.AddLot(ctx, farmID, commands.LotInput(in.Body))
		return created("/v1/lots", l.ID, l.Version, lotView(l)), err
	})
}

func (s *service) getLot(ctx context.Context, farmID int64, in *ByID) (*one[Lot], error) {
	l, err := s.Commands.Store.Lot(ctx, farmID, in.ID)
	return &one[Lot]{etag(l.Version), lotView(l)}, err
}

func (s *service) changeLot(ctx context.Context, farmID int64, in *changeByID[commands.LotInput]) (out *one[Lot], err error) {
	err = change(in.IfMatch, func(seen commands.Seen) error {
		l, err := s.Commands.ChangeLot(ctx, farmID, in.ID, seen, in.Body)
		out = &one[Lot]{etag(l.Version), lotView(l)}
		return err
	})
	return out, err
}

func (s *service) endLot(ctx context.Context, farmID int64, in *removeByID) (*nothing, error) {
	return &nothing{}, change(in.IfMatch, func(seen commands.Seen) error {
		return s.Commands.EndLot(ctx, farmID, in.ID, seen)
	})
}
