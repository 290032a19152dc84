package page

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/science/season"
	"winterstand/internal/service/plan"
	"winterstand/internal/store"
)

var seasonScreen = Screen{Path: "/season", Name: "season.title", Routes: func(s *Site, r chi.Router) {
	r.Get("/season", s.signed(showSeason))
	r.Post(seasonForm, s.signed(makeSeason))
}}

// seasonForm is where a history is sent to; it alone may be as large as one.
const seasonForm = "/season"

// Bounds of a history. Own defaults, the same as for the HTTP interface.
const (
	maxHistory  = 8 << 20
	lookTimeout = 2 * time.Minute
)

// seasonPage is the look back, and the form that makes another.
type seasonPage struct {
	Made    string
	Notes   []string
	Rows    []seasonRow
	Fields  []Choice
	Problem string
	How     string
}

type seasonRow struct {
	Crop, Under            string
	First, Half, Most      string
	Weeks, Low, Stood, Few string
}

func showSeason(v *visit) error { return v.season(http.StatusOK, "") }

func (v *visit) season(status int, problem string) error {
	s, err := v.Plans.Season(v.ctx(), v.farm.ID)
	if err != nil {
		return err
	}
	p, err := v.places()
	if err != nil {
		return err
	}
	d := seasonPage{Problem: problem, Fields: p.choices(), How: v.say("season.how", "n", strconv.Itoa(plan.MostWinters))}
	if s.Known() {
		d.Made = v.say("season.made", "when", v.date(s.Made), "file", s.File, "field", s.Field, "from", season.Name(s.From), "to", season.Name(s.To))
		if d.Notes, err = v.seasonNotes(s); err != nil {
			return err
		}
	}
	for _, r := range s.Rows {
		d.Rows = append(d.Rows, v.seasonRow(r))
	}
	v.write(status, "season", v.say("season.title"), d)
	return nil
}

func (v *visit) seasonNotes(s plan.Season) ([]string, error) {
	var out []string
	add := func(n int, key string) {
		if n > 0 {
			out = append(out, v.say(key, "n", strconv.Itoa(n)))
		}
	}
	add(s.LeftOut, "season.left_out")
	add(s.Filled, "season.filled")
	whole, holed := 0, 0
	for _, r := range s.Rows {
		whole, holed = max(whole, r.Winters), max(holed, r.Incomplete)
	}
	add(holed, "season.incomplete")
	if whole < plan.LeastWinters {
		out = append(out, v.say("season.few"))
	} else {
		out = append(out, v.say("season.used"))
	}
	later, err := v.Plans.NotPlayed(v.ctx(), v.farm.ID, s)
	if len(later) > 0 {
		out = append(out, v.say("season.missing", "crops", v.cropNames(later)))
	}
	return out, err
}

func (v *visit) seasonRow(r season.Row) seasonRow {
	out := seasonRow{Crop: v.cropName(r.Crop, ""), Under: v.say("cover." + r.Cover), Weeks: "–", Low: "–",
		Stood: v.say("season.stood", "stood", strconv.Itoa(r.Stood), "winters", strconv.Itoa(r.Winters))}
	for i, to := range []*string{&out.First, &out.Half, &out.Most} {
		*to = "–"
		if i < len(r.OutBy) {
			*to = v.outBy(r.OutBy[i])
		}
	}
	if w, ok := r.Weeks.Get(); ok {
		out.Weeks = fmt.Sprintf("%.0f", w)
	}
	if t, ok := r.Low.Get(); ok {
		out.Low = v.speaker.Temperature(t)
	}
	return out
}

// outBy is a day of no particular year.
func (v *visit) outBy(q season.Quantile) string {
	t, err := time.Parse("2006-01-02", "2000-"+q.Date)
	if q.Stands || err != nil {
		return v.say("season.stands")
	}
	return fmt.Sprintf("%d %s", t.Day(), v.say("month."+strings.ToLower(t.Month().String()[:3])))
}

// makeSeason takes a file in a form of its own kind, so it looks after what the
// other forms are looked after for: who may change, and that the form is ours.
func makeSeason(v *visit) error {
	if !v.mayChange() {
		return errReadOnly
	}
	if err := v.r.ParseMultipartForm(maxHistory); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return v.season(http.StatusRequestEntityTooLarge, v.say("season.too_big"))
		}
		return errBadForm
	}
	defer v.r.MultipartForm.RemoveAll()
	if !same(v.r.PostFormValue("csrf"), v.session.CSRF) {
		return errForeignForm
	}
	name, body, err := v.history()
	if err != nil {
		return v.season(http.StatusUnprocessableEntity, v.say("season.no_file"))
	}
	fieldID, _ := strconv.ParseInt(v.r.PostFormValue("field_id"), 10, 64) // none: the first field
	ctx, cancel := context.WithTimeout(v.ctx(), lookTimeout)
	defer cancel()
	made, err := v.Plans.LookBack(ctx, v.farm.ID, fieldID, name, body)
	if err != nil {
		return v.wrongSeason(err)
	}
	if err := v.Commands.Write(v.ctx(), func(w store.Writer) error { return made.Keep(v.ctx(), w, v.farm.ID) }); err != nil {
		return err
	}
	return v.to("/season", "season")
}

// history is the file that was given, with its name as it may be shown.
func (v *visit) history() (string, []byte, error) {
	f, head, err := v.r.FormFile("file")
	if err != nil {
		return "", nil, err
	}
	defer f.Close()
	body, err := io.ReadAll(f)
	if err == nil && len(body) == 0 {
		err = io.ErrUnexpectedEOF
	}
	name := []rune(path.Base(strings.ReplaceAll(head.Filename, `\`, "/")))
	return string(name[:min(len(name), 80)]), body, err
}

func (v *visit) wrongSeason(err error) error {
	var bad *plan.BadHistory
	switch {
	case errors.As(err, &bad):
		return v.season(http.StatusUnprocessableEntity, v.say("season.wrong", "why", v.speaker.Tell(bad.Why)))
	case errors.Is(err, plan.ErrNoCrops):
		return v.season(http.StatusConflict, v.say("season.no_crops"))
	case errors.Is(err, context.DeadlineExceeded):
		return v.season(http.StatusServiceUnavailable, v.say("season.busy"))
	}
	return err
}
