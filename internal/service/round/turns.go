package round

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"sync"

	"winterstand/internal/store"
)

// keyedMutex lets one at a time into a round of a cell, or into the placing of a
// field, so that a burst of jobs asks its services once. The zero value is ready.
type keyedMutex struct{ taken sync.Map } // by name, a channel that holds one token while taken

// lock waits for the turn and gives its end. Errors: that of ctx.
func (t *keyedMutex) lock(ctx context.Context, name string) (func(), error) {
	held, _ := t.taken.LoadOrStore(name, make(chan struct{}, 1))
	token := held.(chan struct{})
	select {
	case token <- struct{}{}:
		return func() { <-token }, nil
	case <-ctx.Done():
		return nil, fmt.Errorf("wait for %s: %w", name, ctx.Err())
	}
}

// errOutrun: another process has told something about the cell's beds since
// this round began, so that what this one decided rests on what no longer is.
var errOutrun = errors.New("another process was faster")

// judgeTries is how often a round that was overtaken begins again.
const judgeTries = 3

// hold keeps other processes from writing a round of the cell until this
// transaction ends, and sees that none has done so since the round began.
func (r *round) hold(ctx context.Context, tx store.Writer) error {
	// A memo that every round of the cell writes first: its row is the lock.
	if err := store.Remember(ctx, tx, fmt.Sprintf("cell:%d", r.s.Cell.ID), "round", r.s.Now, r.s.Now); err != nil {
		return err
	}
	stand, err := tx.VerdictsOfCell(ctx, r.s.Cell.ID)
	if err != nil {
		return fmt.Errorf("verdicts of %s: %w", r.s.Cell.Key, err)
	}
	for i := range r.plots {
		id := r.plots[i].Bed.ID
		if !reflect.DeepEqual(stand[id].Event, r.before[id].Event) {
			return errOutrun
		}
	}
	return nil
}
