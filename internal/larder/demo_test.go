package larder_test

import (
	"log/slog"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/larder"
	"winterstand/internal/rehearsal"
)

func TestDemoFarm(t *testing.T) {
	ctx := t.Context()
	stage, err := rehearsal.Raise(ctx, rehearsal.Options{Winter: rehearsal.Story(), From: rehearsal.Eve, Listen: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	defer stage.Strike()
	require.NoError(t, stage.Remember(ctx, rehearsal.Story(), 90))
	_, err = stage.Service.Watcher.Round(ctx)
	require.NoError(t, err)
	l := larder.Larder{Books: stage.Service.Book, Catalogue: stage.Service.Catalogue, Now: stage.Clock.Now}
	p, err := l.Plan(ctx, stage.FarmID)
	require.NoError(t, err)
	for _, b := range p.Beds {
		t.Logf("%+v", b)
	}
	for _, w := range p.Turns {
		t.Logf("%+v", w)
	}
	t.Logf("%+v", p.GivenUp)
	s, err := l.Supply(ctx, stage.FarmID, true)
	require.NoError(t, err)
	for _, b := range s.Beds {
		t.Logf("%s %s %v %v", b.Name, b.Crop, b.Kg, b.Regrow)
		for i, c := range b.Alive {
			if i%3 == 0 {
				t.Logf("   %s %.2f", c.Day, c.P)
			}
		}
	}
	t.Logf("%+v", s.RunsOut)
	t.Logf("%+v", s.Gap)
	t.Logf("%+v", s.Totals)
}
