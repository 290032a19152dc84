package app

import "winterstand/internal/web/calendar"

// calendar serves the farms' calendars.
func (s *Service) calendar() calendar.Feed {
	return calendar.Feed{Book: s.Book, Phrases: s.Phrases, PublicURL: s.Settings.PublicURL, Now: s.Now, Log: s.Log}
}
