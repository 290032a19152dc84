package round

import (
	"context"
	"maps"
	"slices"

	"winterstand/internal/message/notice"
	"winterstand/internal/service/announce"
	"winterstand/internal/store"
)

// outgoing is one notice that is to be written.
type outgoing struct {
	announce.Due
	sight *notice.SightTold // what is true of the field's sight once it is written
}

// writeNotices writes the due notices, groups them into one message a recipient and
// channel, and queues those. A notice that stands already is left out.
func (r *round) writeNotices(ctx context.Context, tx store.Writer) ([]store.Notice, error) {
	var told []store.Notice
	written := map[int64][]announce.Addressed{} // by farm
	for _, d := range r.due {
		n, ok, err := announce.Write(ctx, tx, d.Due)
		if err != nil {
			return nil, err
		}
		if d.sight != nil {
			if err := store.Remember(ctx, tx, n.Subject, sightMemo, d.sight, r.s.Now); err != nil {
				return nil, err
			}
		}
		if !ok {
			continue
		}
		told = append(told, n)
		written[n.FarmID] = append(written[n.FarmID], d.Addressed(n))
		if n.BedID != 0 {
			e := r.events[n.BedID]
			e.NoticeID = n.ID
			r.events[n.BedID] = e
		}
	}
	for _, farmID := range slices.Sorted(maps.Keys(written)) {
		if err := announce.Address(ctx, tx, written[farmID], r.s.Now); err != nil {
			return nil, err
		}
	}
	return told, nil
}
