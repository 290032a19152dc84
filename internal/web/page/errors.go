package page

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"winterstand/internal/message/link"
	"winterstand/internal/service/commands"
	"winterstand/internal/store"
)

// What a page may refuse with, besides the sentinels of store and commands.
var (
	errNoPage      = errors.New("no such page")
	errSignedOut   = errors.New("signed out")
	errReadOnly    = errors.New("may only read")
	errForeignForm = errors.New("the form did not come from here")
	errBadForm     = errors.New("the form cannot be read")
	errTooMany     = errors.New("too many tries")
	errPanic       = errors.New("panic")
	errUndo        = errors.New("cannot be undone")
)

// refusals are the status and phrase of each error; the first that fits counts.
var refusals = []struct {
	err    error
	status int
	phrase string
}{
	{errNoPage, http.StatusNotFound, "no_page"},
	{store.ErrNotFound, http.StatusNotFound, "not_found"},
	{errReadOnly, http.StatusForbidden, "read_only"},
	{errForeignForm, http.StatusForbidden, "foreign"},
	{errBadForm, http.StatusBadRequest, "bad_form"},
	{errUndo, http.StatusConflict, "undo"},
	{errTooMany, http.StatusTooManyRequests, "too_many"},
	{store.ErrChanged, http.StatusConflict, "changed"},
	{store.ErrExists, http.StatusConflict, "exists"},
	{link.ErrNotSigned, http.StatusGone, "link"},
}

type refusal struct{ Head, Text string }

// fail is the one place where an error becomes a page.
func (v *visit) fail(err error) {
	if errors.Is(err, errSignedOut) && v.r.Method == http.MethodGet {
		v.toSignIn()
		return
	}
	status, key, detail := http.StatusInternalServerError, "broken", ""
	var refused *commands.Refused
	var wrong *commands.Invalid
	switch {
	case errors.Is(err, errSignedOut):
		status, key = http.StatusForbidden, "signed_out"
	case errors.As(err, &refused):
		status, key, detail = http.StatusConflict, "refused", v.speaker.Tell(refused.Reason)
	case errors.As(err, &wrong):
		status, key, detail = http.StatusUnprocessableEntity, "refused", v.wrongs(wrong)
	default:
		for _, r := range refusals {
			if errors.Is(err, r.err) {
				status, key = r.status, r.phrase
				break
			}
		}
	}
	if status == http.StatusInternalServerError {
		v.Log.ErrorContext(v.ctx(), "page failed", "path", v.r.URL.Path, "error", err)
	}
	v.write(status, "error", v.say("error."+key+"_head"), refusal{v.say("error." + key + "_head"), v.say("error."+key, "detail", detail)})
}

// toSignIn remembers where the visitor wanted to go.
func (v *visit) toSignIn() {
	to := "/signin"
	if v.r.URL.Path != "/" {
		to += "?next=" + url.QueryEscape(v.r.URL.RequestURI())
	}
	http.Redirect(v.w, v.r, to, http.StatusSeeOther)
}

// wrongs says everything that is wrong with an input in the reader's words.
func (v *visit) wrongs(e *commands.Invalid) string {
	out := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		out[i] = v.wrong(p)
	}
	return strings.Join(out, "; ")
}

// wrong is one problem, its member by the name it has on the pages if it has one.
func (v *visit) wrong(p commands.Problem) string {
	name := p.Field
	if v.Phrases.Has("label." + name) {
		name = v.say("label." + name)
	}
	return name + ": " + v.speaker.Tell(p.Reason)
}
