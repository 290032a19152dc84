package browsertest

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/service/commands"
	"winterstand/internal/store"
	"winterstand/internal/trial/catcher"
	"winterstand/internal/trial/patience"
	"winterstand/internal/trial/rehearsal"
)

func TestWhoIsRegisteredLateIsStillTold(t *testing.T) {
	s := raise(t, rehearsal.Eve)
	serve(t, s)
	id, _ := ownFarm(t, s, "Late")
	f, err := s.Service.Commands.AddField(t.Context(), id, commands.FieldInput{Name: commands.Set("F"), Latitude: commands.Set(46.71), Longitude: commands.Set(-68.32)})
	require.NoError(t, err)
	_, err = s.Service.Commands.AddBed(t.Context(), id, commands.BedInput{FieldID: commands.Set(f.ID), Name: commands.Set("X1"), Crop: commands.Set("chard"), StandingKg: commands.Set(90.0)})
	require.NoError(t, err)
	patience.Until(t, func() bool {
		ns, err := s.Service.Book.Notices(t.Context(), id, store.NoticeFilter{})
		require.NoError(t, err)
		return len(ns) > 0
	}, "a notice")
	_, err = s.Service.Commands.AddRecipient(t.Context(), id, commands.RecipientInput{Name: commands.Set("N"), Email: commands.Set("late@x.example")})
	require.NoError(t, err)
	patience.Until(t, func() bool {
		require.NoError(t, s.Service.Poll(t.Context()))
		return slices.ContainsFunc(s.Catcher.Mails(), func(m catcher.Mail) bool { return m.To[0] == "late@x.example" })
	}, "the notice to who came late")
}
