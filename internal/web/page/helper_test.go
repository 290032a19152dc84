package page

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/link"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/message/picture"
	"winterstand/internal/science/verdict"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/unit"
)

// noon is when every test happens: a Sunday, 10:20 in the morning in Chicago.
var noon = time.Date(2026, 11, 15, 16, 20, 0, 0, time.UTC)

// world is the pages over a real book.
type world struct {
	testing.TB
	store    *sqlite.Store
	commands commands.Service
	judge    *fakeJudge
	mail     *letterbox
	site     *Site
	server   *httptest.Server
	log      *bytes.Buffer
	token    string
	farmID   int64
	now      time.Time
	zone     *time.Location
}

func newWorld(t testing.TB, edit ...func(*Options)) *world {
	t.Helper()
	opened, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, opened.Close()) })
	opened.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	catalogue, err := crop.Default()
	require.NoError(t, err)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	w := &world{TB: t, store: opened, judge: &fakeJudge{}, mail: &letterbox{}, log: &bytes.Buffer{}, now: noon, zone: zone}
	w.commands = commands.Service{Store: opened.Store, Catalogue: catalogue, Now: func() time.Time { return w.now }}
	made, err := w.commands.MakeToken(w.ctx(), "Hill Farm", farm.ScopeWrite)
	require.NoError(t, err)
	w.token, w.farmID = made.Token, made.Farm.ID
	_, err = w.commands.ChangeFarm(w.ctx(), w.farmID, unit.None[int64](), commands.FarmInput{
		Units: commands.Set("us"), TimeZone: commands.Set("America/Chicago")})
	require.NoError(t, err)
	w.serve(edit...)
	return w
}

func (w *world) ctx() context.Context { return context.Background() }

// serve starts the pages; an edit changes what they are made of.
func (w *world) serve(edit ...func(*Options)) {
	o := Options{Commands: w.commands, Judge: w.judge, Plans: plan.Reader{Books: w.store.Reader, Catalogue: w.commands.Catalogue, Now: w.commands.Now}, Draw: draw, Mailer: w.mail, Channels: []string{store.Email, store.SMS},
		Sources: []string{"nws", "metno"}, Signer: link.Signer{Secret: []byte("a secret for tests")}, Phrases: phrase.MustLoad(),
		PublicURL: "http://127.0.0.1", Log: slog.New(slog.NewTextHandler(w.log, nil))}
	for _, e := range edit {
		e(&o)
	}
	var err error
	w.site, err = New(o)
	require.NoError(w, err)
	w.server = httptest.NewServer(w.site.Handler())
	w.Cleanup(w.server.Close)
}

// fakeJudge answers as it is told to.
type fakeJudge struct {
	verdict farm.Verdict
	err     error
	cover   string
	mulch   unit.Maybe[float64]
}

func (j *fakeJudge) Outlook(context.Context, int64, int64) (scene.Outlook, error) {
	zone, _ := time.LoadLocation("America/Chicago")
	return scene.Outlook{Verdict: j.verdict, Hours: hours(), Zone: zone, Latitude: 46.5, Longitude: -92.1}, j.err
}

func (j *fakeJudge) WhatIf(_ context.Context, _, _ int64, cover string, mulch unit.Maybe[float64]) (farm.Verdict, error) {
	j.cover, j.mulch = cover, mulch
	return j.verdict, j.err
}

func draw(o scene.Outlook, bed, crop string, s phrase.Speaker) picture.Bed {
	b := picture.Bed{Title: bed + ", " + crop, Zone: o.Zone, Units: s.Units, Now: noon, Phrases: picture.PhrasesFor(s, o.Verdict.Organ), Deadline: o.Verdict.HarvestBefore}
	for _, h := range o.Hours {
		b.Hours = append(b.Hours, picture.Hour{At: h.At, AirP10: unit.Some(h.AirP10), AirP50: unit.Some(h.AirP50), AirP90: unit.Some(h.AirP90),
			TissueP10: unit.Some(h.TissueP10), TissueP50: unit.Some(h.TissueP50), TissueP90: unit.Some(h.TissueP90),
			Tolerance: unit.Some(h.Tolerance), SnowCm: unit.Some(h.SnowCm), Workable: h.Workable, Night: !h.Workable})
	}
	return b
}

// hours are ten days with a cold snap in the fourth night.
func hours() (out []verdict.Hour) {
	zone, _ := time.LoadLocation("America/Chicago")
	from := noon.Truncate(time.Hour)
	for i := range 240 {
		at := from.Add(time.Duration(i) * time.Hour)
		day := float64(i) / 24
		snap := -9 * math.Exp(-math.Pow(day-3.6, 2)/1.2)
		air := 4.5*math.Sin(2*math.Pi*(float64(at.In(zone).Hour())-9)/24) + snap - 0.1*day
		spread := unit.Celsius((1.6 + 0.25*day) * 1.28)
		c := unit.Celsius(air)
		out = append(out, verdict.Hour{At: at, AirP10: c - spread, AirP50: c, AirP90: c + spread, TissueP10: c - spread - 1,
			TissueP50: c - 1, TissueP90: c + spread - 1, Tolerance: -6.2, SnowCm: math.Max(0, 4*(day-4)),
			Workable: at.In(zone).Hour() >= 10 && at.In(zone).Hour() < 16 && air > 0})
	}
	return out
}

// letterbox keeps what was to be sent.
type letterbox struct {
	to            []string
	subject, text string
	err           error
}

func (l *letterbox) Mail(_ context.Context, to farm.Recipient, subject, text string) error {
	l.to, l.subject, l.text = append(l.to, to.Email), subject, text
	return l.err
}

// browser keeps cookies and does not follow redirects.
type browser struct {
	*world
	client *http.Client
}

func (w *world) stranger() *browser {
	jar, err := cookiejar.New(nil)
	require.NoError(w, err)
	return &browser{w, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// grower is signed in by the farm's token.
func (w *world) grower() *browser { return w.holder(w.token) }

func (w *world) holder(token string) *browser {
	b := w.stranger()
	form := b.get("/signin").is(200).form("/signin/token")
	form.Set("token", token)
	b.post("/signin/token", form).is(303)
	return b
}

// sheet is an answer that was read.
type reply struct {
	testing.TB
	status int
	header http.Header
	body   string
}

func (b *browser) get(path string, headers ...string) reply {
	b.Helper()
	req, err := http.NewRequest(http.MethodGet, b.server.URL+path, nil)
	require.NoError(b, err)
	for i := 0; i+1 < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	return b.do(req)
}

func (b *browser) post(path string, form url.Values) reply {
	b.Helper()
	req, err := http.NewRequest(http.MethodPost, b.server.URL+path, strings.NewReader(form.Encode()))
	require.NoError(b, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.do(req)
}

func (b *browser) do(req *http.Request) reply {
	b.Helper()
	res, err := b.client.Do(req)
	require.NoError(b, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(b, err)
	return reply{b.TB, res.StatusCode, res.Header, string(body)}
}

func (r reply) is(status int) reply {
	r.Helper()
	require.Equal(r, status, r.status, "%s", r.body)
	return r
}

func (r reply) says(words ...string) reply {
	r.Helper()
	for _, w := range words {
		require.Contains(r, plain(r.body), w)
	}
	return r
}

func (r reply) silent(words ...string) reply {
	r.Helper()
	for _, w := range words {
		require.NotContains(r, plain(r.body), w)
	}
	return r
}

var tags = regexp.MustCompile(`<[^>]*>`)

// plain is the text of a page.
func plain(body string) string {
	s := strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&", "&#43;", "+").Replace(tags.ReplaceAllString(body, " "))
	return strings.Join(strings.Fields(s), " ")
}

var (
	formTag  = regexp.MustCompile(`(?s)<form method="post" action="([^"]*)"[^>]*>(.*?)</form>`)
	inputTag = regexp.MustCompile(`<input[^>]*\bname="([^"]*)"[^>]*>`)
	valueTag = regexp.MustCompile(`\bvalue="([^"]*)"`)
)

// form gives the values of the first form that posts to an address, as a browser
// would send it; hidden ones are what matters.
func (r reply) form(action string) url.Values {
	r.Helper()
	for _, m := range formTag.FindAllStringSubmatch(r.body, -1) {
		if m[1] != action {
			continue
		}
		out := url.Values{}
		for _, in := range inputTag.FindAllStringSubmatch(m[2], -1) {
			if strings.Contains(in[0], `type="checkbox"`) && !strings.Contains(in[0], "checked") {
				continue
			}
			if v := valueTag.FindStringSubmatch(in[0]); v != nil {
				out.Set(in[1], strings.NewReplacer("&#43;", "+").Replace(v[1]))
			} else if strings.Contains(in[0], `type="checkbox"`) {
				out.Set(in[1], "on")
			}
		}
		return out
	}
	require.Failf(r, "no such form", "%s\n%s", action, r.body)
	return nil
}

func (w *world) field(name string) store.Field {
	w.Helper()
	f, err := w.commands.AddField(w.ctx(), w.farmID, commands.FieldInput{Name: commands.Set(name), Latitude: commands.Set(46.5), Longitude: commands.Set(-92.1)})
	require.NoError(w, err)
	require.NoError(w, w.store.Write(w.ctx(), func(tx store.Writer) error {
		id, err := tx.SaveCell(w.ctx(), store.Cell{Key: "nws:DLH/" + name, Latitude: 46.5, Longitude: -92.1, TimeZone: "America/Chicago", ResolvedAt: w.now})
		if err != nil {
			return err
		}
		f.CellID = id
		return tx.PlaceField(w.ctx(), f.ID, id)
	}))
	return f
}

func (w *world) bed(f store.Field, name, crop string, kg float64) farm.Bed {
	w.Helper()
	b, err := w.commands.AddBed(w.ctx(), w.farmID, commands.BedInput{FieldID: commands.Set(f.ID), Name: commands.Set(name), Crop: commands.Set(crop), StandingKg: commands.Set(kg)})
	require.NoError(w, err)
	return b
}

func (w *world) local(day, hour, minute int) time.Time {
	return time.Date(2026, 11, day, hour, minute, 0, 0, w.zone).UTC()
}

// endsAt is a verdict with a deadline.
func (w *world) endsAt(by time.Time) farm.Verdict {
	v := w.holds()
	v.State, v.Cause, v.Night, v.HarvestBefore = farm.HarvestBefore, farm.LeafFreeze, farm.DayOf(by, w.zone), unit.Some(by)
	v.Likelihood = unit.Some(0.68)
	v.AirLow, v.TissueLow, v.ToleranceThen = unit.Some(unit.Celsius(-12.8)), unit.Some(unit.Celsius(-13.4)), unit.Some(unit.Celsius(-8.5))
	v.Helps = []farm.Help{{Cover: "low_tunnel_fabric", Likelihood: 0.1, Holds: true}}
	return v
}

func (w *world) holds() farm.Verdict {
	v := farm.Verdict{State: farm.Holds, AsOf: w.now, Organ: crop.Leaf, LossShare: 0.2, CostLoss: 0.2, Night: "2026-11-18",
		Likelihood: unit.Some(0.04), AirLow: unit.Some(unit.Celsius(-6)), TissueLow: unit.Some(unit.Celsius(-6.6)), Members: 51,
		Tolerance: unit.Some(unit.Celsius(-9)), ToleranceThen: unit.Some(unit.Celsius(-9.4)), HistoryHours: 900,
		Forecast: farm.Basis{ID: 1, Source: "nws", Place: "nws:DLH", Issued: w.now.Add(-95 * time.Minute), Credit: "US National Weather Service, public domain"}}
	for day := 15; day < 20; day++ {
		v.Windows = append(v.Windows, farm.Window{Start: w.local(day, 10, 0), End: w.local(day, 16, 30)})
	}
	return v
}

// judged writes verdicts into the book.
func (w *world) judged(beds map[int64]farm.Verdict) {
	w.Helper()
	require.NoError(w, w.store.Write(w.ctx(), func(tx store.Writer) error {
		var out []store.Verdict
		for id, v := range beds {
			out = append(out, store.Verdict{BedID: id, Kept: farm.Keep(v)})
		}
		return tx.SaveVerdicts(w.ctx(), out)
	}))
}

func (w *world) person(name, email, phone string) farm.Recipient {
	w.Helper()
	in := commands.RecipientInput{Name: commands.Set(name)}
	if email != "" {
		in.Email = commands.Set(email)
	}
	if phone != "" {
		in.Phone = commands.Set(phone)
	}
	r, err := w.commands.AddRecipient(w.ctx(), w.farmID, in)
	require.NoError(w, err)
	return r
}

// notice about a bed, as a round would write it, with a message that carries it.
func (w *world) told(b farm.Bed, f store.Field, kind string, v farm.Verdict, to ...farm.Recipient) (store.Notice, store.Message) {
	w.Helper()
	facts := notice.Facts{Kind: kind, Farm: "Hill Farm", Field: f.Name, Bed: b.Name, BedID: b.ID, Crop: b.Crop, Titles: map[string]string{"en": "Chard", "es": "Acelga"},
		Zone: "America/Chicago", Night: v.Night, Purpose: b.Purpose, StandingKg: b.StandingKg, Verdict: &v, LeadHours: 72, MovedStepHours: 6,
		Why: notice.WithinLead}
	body, err := json.Marshal(facts)
	require.NoError(w, err)
	n := store.Notice{FarmID: w.farmID, Subject: fmt.Sprintf("bed:%d", b.ID), FieldID: f.ID, BedID: b.ID, Kind: kind, Night: v.Night, Revision: 1,
		IssuedAt: w.now, HarvestBefore: v.HarvestBefore, Likelihood: v.Likelihood, Facts: body}
	var m store.Message
	require.NoError(w, w.store.Write(w.ctx(), func(tx store.Writer) error {
		if n.ID, err = tx.AddNotice(w.ctx(), n); err != nil {
			return err
		}
		for _, r := range to {
			m = store.Message{FarmID: w.farmID, RecipientID: r.ID, Channel: store.Email, Key: fmt.Sprintf("k%d-%d", n.ID, r.ID), NoticeIDs: []int64{n.ID},
				State: store.Queued, CreatedAt: w.now, NotBefore: w.now}
			if m.ID, err = tx.AddMessage(w.ctx(), m); err != nil {
				return err
			}
		}
		return nil
	}))
	return n, m
}

// fortyBeds is a farm in the week before a cold snap.
func (w *world) fortyBeds() []farm.Bed {
	w.Helper()
	north, south := w.field("North field"), w.field("South field")
	crops := []string{"chard", "kale-curly", "spinach", "carrot", "parsley", "beet"}
	verdicts := map[int64]farm.Verdict{}
	var beds []farm.Bed
	for i := range 40 {
		f := north
		if i%3 == 0 {
			f = south
		}
		b := w.bed(f, fmt.Sprintf("B%d", i+1), crops[i%len(crops)], float64(20+7*i))
		beds = append(beds, b)
		v := w.holds()
		v.TissueLow = unit.Some(unit.Celsius(-6.6 - float64(i%7)*0.4))
		switch {
		case i < 3:
			v = w.endsAt(w.local(16, 16, 30))
		case i < 8:
			v = w.endsAt(w.local(18, 16, 30))
			v.Likelihood = unit.Some(0.3)
		case i == 8:
			v = w.endsAt(w.local(15, 16, 0))
			v.State, v.HarvestBefore = farm.TooLate, unit.None[time.Time]()
		case i == 9:
			v = farm.Verdict{State: farm.Unknown, Blind: farm.Holes, AsOf: w.now, Missing: []farm.Gap{{What: farm.GapDewPoint, Hours: 30, Of: 48}}, Forecast: v.Forecast}
		}
		verdicts[b.ID] = v
	}
	w.judged(verdicts)
	return beds
}

var errTest = errors.New("broken on purpose")

type deadlineVerdict = farm.Verdict

func blind(missing farm.Gap) error {
	return &scene.Blind{Verdict: farm.Verdict{State: farm.Unknown, Blind: farm.Holes, Missing: []farm.Gap{missing}}}
}

func mustRequest() *http.Request { return httptest.NewRequest(http.MethodGet, "/", nil) }
