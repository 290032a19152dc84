package page

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/store"
)

var noticesScreen = Screen{Path: "/notices", Name: "page.notices", Front: true, Routes: func(s *Site, r chi.Router) {
	r.Get("/notices", s.signed(showNotices))
	r.Get("/notices.csv", s.signed(noticesCSV))
	r.Get("/notices/{id}", s.signed(showNotice))
	r.Post("/notices/{id}/answer", s.change(answerOne))
}}

// noticesOnPage keeps the page small.
const noticesOnPage = 40

// noticeLine is one notice in a list.
type noticeLine struct {
	ID                 int64
	When, Kind, Text   string
	Answer, AnsweredAt string
}

// asked are the filters, as they were given.
type asked struct {
	Bed, Field, Kind, From, To string
	Fields, Beds, Kinds        []Choice
	Wrong                      string
}

type noticesPage struct {
	Asked          asked
	Lines          []noticeLine
	Next, Download string
}

// filter reads the filters; days are those of the farm's zone, both included.
func (v *visit) filter() (asked, store.NoticeFilter) {
	q := v.r.URL.Query()
	a := asked{Bed: q.Get("bed"), Field: q.Get("field"), Kind: q.Get("kind"), From: q.Get("from"), To: q.Get("to")}
	f := store.NoticeFilter{Kind: a.Kind, BedID: number(a.Bed), FieldID: number(a.Field)}
	f.After = number(q.Get("after"))
	var ok bool
	if f.From, ok = v.dayStart(a.From, 0); !ok {
		a.Wrong = v.say("right.day")
	}
	if f.To, ok = v.dayStart(a.To, 1); !ok {
		a.Wrong = v.say("right.day")
	}
	return a, f
}

// dayStart is the beginning of a day, some days later; empty: no limit.
func (v *visit) dayStart(s string, later int) (time.Time, bool) {
	if s == "" {
		return time.Time{}, true
	}
	d, err := farm.ParseDay(s)
	if err != nil {
		return time.Time{}, false
	}
	return d.Add(later).Start(v.speaker.Zone).UTC(), true
}

// number of an entry; 0: none.
func number(s string) int64 {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 {
		return 0
	}
	return n
}

func (v *visit) filterChoices(a *asked) error {
	p, err := v.places()
	if err != nil {
		return err
	}
	beds, err := v.books().Beds(v.ctx(), v.farm.ID, store.BedFilter{Cleared: true})
	if err != nil {
		return err
	}
	all := Choice{"", v.say("notices.all")}
	a.Fields, a.Beds, a.Kinds = append([]Choice{all}, p.choices()...), []Choice{all}, []Choice{all}
	for _, b := range beds {
		a.Beds = append(a.Beds, Choice{fmt.Sprint(b.ID), b.Name + ", " + v.cropName(b.Crop, b.Variety)})
	}
	a.Kinds = append(a.Kinds, v.choices("recipient.kinds", "kind", "")...)
	return nil
}

func showNotices(v *visit) error {
	p, f, err := v.askedFor()
	if err != nil {
		return err
	}
	f.Limit = noticesOnPage + 1
	notices, err := v.books().Notices(v.ctx(), v.farm.ID, f)
	if err != nil {
		return err
	}
	q := p.Asked.query()
	p.Download = "/notices.csv?" + q.Encode()
	if len(notices) > noticesOnPage {
		notices = notices[:noticesOnPage]
		q.Set("after", fmt.Sprint(notices[noticesOnPage-1].ID))
		p.Next = "/notices?" + q.Encode()
	}
	for _, n := range notices {
		line, _, err := v.noticeLine(n)
		if err != nil {
			return err
		}
		p.Lines = append(p.Lines, line)
	}
	return v.show("notices", v.say("page.notices"), p)
}

func (v *visit) askedFor() (noticesPage, store.NoticeFilter, error) {
	a, f := v.filter()
	err := v.filterChoices(&a)
	return noticesPage{Asked: a}, f, err
}

func (a asked) query() url.Values {
	q := url.Values{}
	for k, s := range map[string]string{"bed": a.Bed, "field": a.Field, "kind": a.Kind, "from": a.From, "to": a.To} {
		if s != "" {
			q.Set(k, s)
		}
	}
	return q
}

func (v *visit) facts(n store.Notice) (notice.Facts, error) {
	var f notice.Facts
	if err := json.Unmarshal(n.Facts, &f); err != nil {
		return f, fmt.Errorf("read facts of notice %d: %w", n.ID, err)
	}
	return f, nil
}

func (v *visit) noticeLine(n store.Notice) (noticeLine, notice.Facts, error) {
	f, err := v.facts(n)
	if err != nil {
		return noticeLine{}, f, err
	}
	s := v.at(farm.ZoneTold(f.Zone))
	l := noticeLine{ID: n.ID, When: s.When(n.IssuedAt), Kind: v.kind(n.Kind), Text: notice.Words(s, f, n.IssuedAt).Body[0]}
	if n.Answer != "" {
		l.Answer = v.say("reply." + n.Answer)
	}
	if t, ok := n.AnsweredAt.Get(); ok {
		l.AnsweredAt = s.When(t)
	}
	return l, f, nil
}

// csvColumns of the download: SI, the unit in the name.
var csvColumns = []string{"id", "issued_at", "kind", "subject", "field_id", "bed_id", "night", "revision", "harvest_before", "likelihood", "answer", "answered_at", "text"}

func noticesCSV(v *visit) error {
	_, f, err := v.askedFor()
	if err != nil {
		return err
	}
	notices, err := v.books().Notices(v.ctx(), v.farm.ID, f)
	if err != nil {
		return err
	}
	rows := [][]string{csvColumns}
	for _, n := range notices {
		line, _, err := v.noticeLine(n)
		if err != nil {
			return err
		}
		rows = append(rows, []string{fmt.Sprint(n.ID), n.IssuedAt.UTC().Format(time.RFC3339), n.Kind, n.Subject, fmt.Sprint(n.FieldID),
			fmt.Sprint(n.BedID), string(n.Night), fmt.Sprint(n.Revision), instant(n.HarvestBefore.Get()), share(n.Likelihood.Get()),
			n.Answer, instant(n.AnsweredAt.Get()), harmless(line.Text)})
	}
	v.w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	v.w.Header().Set("Content-Disposition", `attachment; filename="notices.csv"`)
	_ = csv.NewWriter(v.w).WriteAll(rows) // the reader has gone: nobody is left to tell
	return nil
}

func instant(t time.Time, ok bool) string {
	if !ok {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

func share(p float64, ok bool) string {
	if !ok {
		return ""
	}
	return strconv.FormatFloat(p, 'f', 3, 64)
}

// harmless keeps a spreadsheet from taking a text for a formula.
func harmless(s string) string {
	if strings.ContainsAny(s[:min(1, len(s))], "=+-@\t\r") {
		return "'" + s
	}
	return s
}

// noticePage is one notice with all that was known when it left.
type noticePage struct {
	ID         int64
	Kind, When string
	Body       []string
	Known      []Fact
	Answers    []string
	Deliveries []string
	BedID      int64
	Actions    *answerCard
}

func showNotice(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	n, err := v.books().Notice(v.ctx(), v.farm.ID, id)
	if err != nil {
		return err
	}
	f, err := v.facts(n)
	if err != nil {
		return err
	}
	s := v.at(farm.ZoneTold(f.Zone))
	d := noticePage{ID: n.ID, Kind: v.kind(n.Kind), When: s.When(n.IssuedAt), Body: notice.Words(s, f, n.IssuedAt).Body, BedID: n.BedID}
	d.Known = v.known(n, f, s)
	if d.Answers, err = v.answers(n, s); err != nil {
		return err
	}
	if d.Deliveries, err = v.deliveries(n, s); err != nil {
		return err
	}
	if v.mayChange() && n.BedID != 0 {
		if d.Actions, err = v.answerCard(n, fmt.Sprintf("/notices/%d/answer", n.ID), v.session.CSRF); err != nil {
			return err
		}
	}
	return v.show("notice", d.Kind, d)
}

func answerOne(v *visit) error {
	id, err := v.id()
	if err != nil {
		return err
	}
	in, err := v.answerGiven()
	if err != nil {
		return err
	}
	if _, err := v.Commands.Answer(v.ctx(), v.farm.ID, id, v.session.RecipientID, in); err != nil {
		return err
	}
	return v.to(fmt.Sprintf("/notices/%d", id), "answered")
}
