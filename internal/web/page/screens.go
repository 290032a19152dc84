package page

import "github.com/go-chi/chi/v5"

// Screen is one page or a few that belong together. A new one is a file with a
// Screen in it and a line in screens.
type Screen struct {
	Path   string // where it begins; empty: not in the navigation
	Name   string // phrase key of its name
	Front  bool   // in the short navigation on top; the rest stands at the foot
	Change bool   // only for those who may change things
	Routes func(s *Site, r chi.Router)
}

// screens in the order of the navigation.
func screens() []Screen {
	return []Screen{
		dueScreen, planScreen, noticesScreen, fieldsScreen, bedsScreen, readingsScreen, findingsScreen,
		supplyScreen, storesScreen, lotsScreen, roomsScreen, seasonScreen, skillScreen, recipientsScreen, settingsScreen, healthScreen,
		signInScreen, answerScreen, unsubscribeScreen,
	}
}

// Link is an entry of the navigation.
type Link struct {
	Path, Name string
	Here       bool
}

// links of the navigation; all: those of the foot.
func (v *visit) links(all bool) []Link {
	var out []Link
	for _, s := range v.screens {
		if s.Path != "" && (all || s.Front) && (v.mayChange() || !s.Change) {
			out = append(out, Link{Path: s.Path, Name: v.say(s.Name), Here: s.Path == v.r.URL.Path})
		}
	}
	return out
}
