package link

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestATokenIsReadOnlyForItsPurposeUnchangedAndInTime(t *testing.T) {
	s, now := Signer{Secret: []byte("key")}, time.Unix(1_700_000_000, 0)
	token := s.Token("answer", now.Add(time.Hour), "7", "42")
	parts, err := s.Read("answer", token, now)
	require.NoError(t, err)
	assert.Equal(t, []string{"7", "42"}, parts)
	for name, read := range map[string]func() error{
		"other purpose": func() error { _, err := s.Read("unsubscribe", token, now); return err },
		"changed":       func() error { _, err := s.Read("answer", "8"+token[1:], now); return err },
		"too late":      func() error { _, err := s.Read("answer", token, now.Add(2*time.Hour)); return err },
		"other secret":  func() error { _, err := Signer{Secret: []byte("k")}.Read("answer", token, now); return err },
		"empty":         func() error { _, err := s.Read("answer", "", now); return err },
	} {
		assert.ErrorIs(t, read(), ErrNotSigned, name)
	}
}
