package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"winterstand/internal/farm"
)

// Kinds of the memos that hold what was.
const (
	roomAirMemo = "room-air"
	lotStayMemo = "lot-rooms"
)

// RoomPast is the air a room has had, by time; its present air is the last.
func RoomPast(ctx context.Context, r MemoReader, room farm.Room) ([]farm.RoomAir, error) {
	past, err := recall[farm.RoomAir](ctx, r, roomOwner(room.ID), roomAirMemo)
	if len(past) == 0 {
		past = []farm.RoomAir{room.Air(room.CreatedAt)}
	}
	return past, err
}

// KeepRoomPast replaces it.
func KeepRoomPast(ctx context.Context, w MemoWriter, roomID int64, past []farm.RoomAir, now time.Time) error {
	return keep(ctx, w, roomOwner(roomID), roomAirMemo, past, now)
}

// LotPast is where a lot has been, by time; where it is now is the last.
func LotPast(ctx context.Context, r MemoReader, l farm.Lot) ([]farm.Stay, error) {
	past, err := recall[farm.Stay](ctx, r, lotOwner(l.ID), lotStayMemo)
	if len(past) == 0 {
		past = []farm.Stay{{From: l.HarvestedAt, RoomID: l.RoomID}}
	}
	return past, err
}

// KeepLotPast replaces it.
func KeepLotPast(ctx context.Context, w MemoWriter, lotID int64, past []farm.Stay, now time.Time) error {
	return keep(ctx, w, lotOwner(lotID), lotStayMemo, past, now)
}

func roomOwner(id int64) string { return fmt.Sprintf("room:%d", id) }

func lotOwner(id int64) string { return fmt.Sprintf("lot:%d", id) }

func recall[T any](ctx context.Context, r MemoReader, owner, kind string) ([]T, error) {
	body, err := r.Memo(ctx, owner, kind)
	if errors.Is(err, ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []T
	if err := json.Unmarshal(body, &out); err != nil {
		return nil, fmt.Errorf("memo %s of %s: %w", kind, owner, err)
	}
	return out, nil
}

func keep(ctx context.Context, w MemoWriter, owner, kind string, value any, now time.Time) error {
	body, err := json.Marshal(value)
	if err != nil {
		return fmt.Errorf("memo %s of %s: %w", kind, owner, err)
	}
	return w.SetMemo(ctx, owner, kind, body, now)
}
