package page

import (
	"errors"
	"net/http"
	"strings"

	"winterstand/internal/store"
)

// submit reads what was given, does it, and leads on; what is wrong is shown on
// the form again, with everything that was given. Nothing is asked of the commands
// until every box could be read.
func submit[I any](s *Sheet, title string, read func() I, do func(I) (to string, err error)) error {
	s.take(s.v.r.PostForm)
	in := read()
	var to string
	var err error
	if !s.Bad() {
		to, err = do(in)
	}
	switch {
	case errors.Is(err, store.ErrChanged):
		s.Problem = s.v.say("form.changed")
	case errors.Is(err, store.ErrExists):
		s.Problem = s.v.say("form.exists")
	case err != nil && !s.blame(err):
		return err
	}
	if s.Bad() {
		s.v.write(http.StatusUnprocessableEntity, "sheet", s.v.say("form.wrong_title", "title", title), s)
		return nil
	}
	return s.v.to(to, "")
}

func compareFold(a, b string) int { return strings.Compare(strings.ToLower(a), strings.ToLower(b)) }
