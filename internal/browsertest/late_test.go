package browsertest

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/catcher"
	"winterstand/internal/desk"
	"winterstand/internal/ledger"
	"winterstand/internal/rehearsal"
)

func TestWhoIsRegisteredLateIsStillTold(t *testing.T) {
	s := raise(t, rehearsal.Eve)
	serve(t, s)
	id, _ := ownFarm(t, s, "Late")
	f, err := s.Service.Desk.AddField(t.Context(), id, desk.FieldInput{Name: desk.Give("F"), Latitude: desk.Give(46.71), Longitude: desk.Give(-68.32)})
	require.NoError(t, err)
	_, err = s.Service.Desk.AddBed(t.Context(), id, desk.BedInput{FieldID: desk.Give(f.ID), Name: desk.Give("X1"), Crop: desk.Give("chard"), StandingKg: desk.Give(90.0)})
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		ns, err := s.Service.Book.Notices(t.Context(), id, ledger.NoticeFilter{})
		require.NoError(t, err)
		return len(ns) > 0
	}, patience, 50*time.Millisecond)
	_, err = s.Service.Desk.AddRecipient(t.Context(), id, desk.RecipientInput{Name: desk.Give("N"), Email: desk.Give("late@x.example")})
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		require.NoError(t, s.Service.Poll(t.Context()))
		return slices.ContainsFunc(s.Catcher.Mails(), func(m catcher.Mail) bool { return m.To[0] == "late@x.example" })
	}, 20*time.Second, time.Second)
}
