package book

import (
	"context"
	"maps"
	"slices"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// checkpoint is one with its place.
type checkpoint struct {
	cell  int64
	class string
	store.Checkpoint
}

var checkpoints = row.Of("checkpoint", "cell_id, class", func(c *checkpoint) []row.Column {
	return []row.Column{
		row.Whole("cell_id", &c.cell).Fixed(),
		row.Text("class", &c.class).Fixed(),
		row.At("as_of", &c.AsOf),
		row.Bytes("body", &c.Body),
	}
})

func (r reader) Checkpoints(ctx context.Context, cellID int64) (_ map[string]store.Checkpoint, err error) {
	defer row.Wrap(&err, "checkpoints of cell %d", cellID)
	list, err := many(ctx, r.q, checkpoints, `WHERE cell_id = ?1`, cellID)
	byClass := make(map[string]store.Checkpoint, len(list))
	for _, c := range list {
		byClass[c.class] = c.Checkpoint
	}
	return byClass, err
}

func (w writer) SaveCheckpoints(ctx context.Context, cellID int64, byClass map[string]store.Checkpoint) (err error) {
	defer row.Wrap(&err, "save checkpoints of cell %d", cellID)
	var list []checkpoint
	for _, class := range slices.Sorted(maps.Keys(byClass)) {
		list = append(list, checkpoint{cellID, class, byClass[class]})
	}
	return bulk(ctx, w, checkpoints, checkpoints.Replace(), list, func(c checkpoint) string { return "class " + c.class })
}

func (w writer) DropCheckpoints(ctx context.Context, cellID int64, t time.Time) (err error) {
	defer row.Wrap(&err, "drop checkpoints of cell %d", cellID)
	_, err = w.tx.Exec(ctx, `DELETE FROM checkpoint WHERE cell_id = ?1 AND as_of > ?2`, cellID, row.Instant(t))
	return err
}
