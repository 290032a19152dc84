package app

import "strings"

// HasInHand tells whether something of a name is in hand.
func (s *Service) HasInHand(what string) func() bool {
	return func() bool { return strings.Contains(s.hands.String(), what) }
}
