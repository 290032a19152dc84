package page

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/scene"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// state is all that a refused request must not move.
func (w *world) state() string {
	w.Helper()
	c, err := w.store.Counts(w.ctx())
	require.NoError(w, err)
	f, err := w.store.Farm(w.ctx(), w.farmID)
	require.NoError(w, err)
	beds, err := w.store.Beds(w.ctx(), w.farmID, store.BedFilter{Cleared: true})
	require.NoError(w, err)
	people, err := w.store.Recipients(w.ctx(), w.farmID, store.Page{})
	require.NoError(w, err)
	rooms, err := w.store.Rooms(w.ctx(), w.farmID, store.Page{})
	require.NoError(w, err)
	findings, err := w.store.Findings(w.ctx(), w.farmID, 0)
	require.NoError(w, err)
	return fmt.Sprint(c, f.Version, beds, people, rooms, findings)
}

// posts are all addresses that change something, with a body that would do.
func posts(bed farm.Bed, f store.Field, r farm.Recipient, room farm.Room) map[string]url.Values {
	at := func(format string, id int64) string { return fmt.Sprintf(format, id) }
	return map[string]url.Values{
		"/fields/new":                     {"name": {"West"}, "latitude": {"46"}, "longitude": {"-92"}},
		at("/fields/%d/change", f.ID):     {"name": {"Other"}},
		at("/fields/%d/remove", f.ID):     {},
		"/beds/new":                       {"field_id": {fmt.Sprint(f.ID)}, "name": {"B9"}, "crop": {"chard"}},
		at("/beds/%d/change", bed.ID):     {"name": {"Other"}},
		at("/beds/%d/cover", bed.ID):      {"cover": {"low_tunnel"}},
		at("/beds/%d/mulch", bed.ID):      {"mulch": {"4"}},
		at("/beds/%d/harvested", bed.ID):  {"amount": {"10"}},
		at("/beds/%d/clear", bed.ID):      {},
		"/recipients/new":                 {"name": {"Bo"}, "email": {"bo@example.org"}},
		at("/recipients/%d/change", r.ID): {"name": {"Other"}},
		at("/recipients/%d/test", r.ID):   {},
		at("/recipients/%d/resume", r.ID): {},
		at("/recipients/%d/remove", r.ID): {},
		"/readings/new":                   {"field_id": {fmt.Sprint(f.ID)}, "quantity": {"air_min_c"}, "value": {"20"}, "at": {"2026-11-15T07:00"}},
		"/findings/new":                   {"bed_id": {fmt.Sprint(bed.ID)}, "night": {"2026-11-13"}, "lost_fraction": {"30"}},
		"/rooms/new":                      {"name": {"Fridge"}, "kind": {"fridge"}, "temperature_c": {"39"}},
		at("/rooms/%d/change", room.ID):   {"name": {"Other"}},
		at("/rooms/%d/remove", room.ID):   {},
		"/lots/new":                       {"room_id": {fmt.Sprint(room.ID)}, "crop": {"carrot"}, "kg": {"10"}, "harvested_at": {"2026-11-14T10:00"}},
		"/settings":                       {"name": {"Other"}},
		"/settings/crew":                  {"crew[0].day": {"mon"}, "crew[0].from": {"08:00"}, "crew[0].to": {"12:00"}, "crew[0].people": {"2"}},
		"/settings/wanted":                {"wanted[0].crop": {"chard"}, "wanted[0].kg_per_week": {"5"}, "wanted[0].from": {"2026-11-01"}, "wanted[0].to": {"2026-12-01"}},
		"/health/forget":                  {"kind": {scene.ToleranceMemo}, "owner": {scene.ToleranceOwner(f.FarmID, "chard", "")}},
		"/signout":                        {},
	}
}

func (w *world) small() (farm.Bed, store.Field, farm.Recipient, farm.Room) {
	w.Helper()
	f := w.field("North field")
	b := w.bed(f, "B1", "chard", 80)
	r := w.person("Ana", "ana@example.org", "")
	room, err := w.commands.AddRoom(w.ctx(), w.farmID, commands.RoomInput{Name: commands.Set("Cellar"), Kind: commands.Set("cellar"), Temperature: commands.Set(3.9)})
	require.NoError(w, err)
	return b, f, r, room
}

func TestAPostWithoutOurFormsSecretChangesNothing(t *testing.T) {
	w := newWorld(t)
	all := posts(w.small())
	g := w.grower()
	before := w.state()
	for path, body := range all {
		g.post(path, body).is(403).says("This form did not come from a page of ours")
		body.Set("csrf", "x")
		g.post(path, body).is(403)
		body.Set("csrf", "")
		g.post(path, body).is(403)
	}
	assert.Equal(t, before, w.state())
	g.get("/").is(200) // still signed in
}

func TestAReadingTokenChangesNothingAndIsShownNoForms(t *testing.T) {
	w := newWorld(t)
	b, f, r, room := w.small()
	made, err := w.commands.MakeToken(w.ctx(), "Hill Farm", farm.ScopeRead)
	require.NoError(t, err)
	g := w.holder(made.Token)
	csrf := g.get("/").is(200).form("/signout").Get("csrf")
	require.NotEmpty(t, csrf)
	before := w.state()
	for path, body := range posts(b, f, r, room) {
		if path == "/signout" {
			continue
		}
		body.Set("csrf", csrf)
		g.post(path, body).is(403).says("may only read")
	}
	assert.Equal(t, before, w.state())
	for _, path := range []string{"/", "/fields", "/recipients", "/rooms", "/lots", "/health", fmt.Sprintf("/beds/%d", b.ID)} {
		body := g.get(path).is(200).body
		assert.Equal(t, 1, strings.Count(body, `method="post"`), "%s: signing out is all", path)
		assert.False(t, strings.Contains(body, `/new"`), "%s leads to a form", path)
	}
	g.get("/beds/new").is(403)
}

func TestEntriesOfAnotherFarmAreNotFound(t *testing.T) {
	w := newWorld(t)
	b, f, r, room := w.small()
	v := w.endsAt(w.local(16, 16, 30))
	n, _ := w.told(b, f, "harvest-before", v)
	lot, err := w.commands.AddLot(w.ctx(), w.farmID, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set("carrot"), Kg: commands.Set(9.0), HarvestedAt: commands.Set(w.now)})
	require.NoError(t, err)
	other, err := w.commands.MakeToken(w.ctx(), "Other Farm", farm.ScopeWrite)
	require.NoError(t, err)
	g := w.holder(other.Token)
	csrf := g.get("/").form("/signout").Get("csrf")
	at := func(format string, id int64) string { return fmt.Sprintf(format, id) }
	for _, path := range []string{at("/beds/%d", b.ID), at("/beds/%d/change", b.ID), at("/fields/%d/change", f.ID), at("/recipients/%d/change", r.ID),
		at("/rooms/%d/change", room.ID), at("/lots/%d/change", lot.ID), at("/notices/%d", n.ID)} {
		g.get(path).is(404)
	}
	before := w.state()
	for path, body := range posts(b, f, r, room) {
		if strings.Contains(path, fmt.Sprintf("/%d/", 1)) || path == "/health/forget" {
			body.Set("csrf", csrf)
			g.post(path, body).is(404)
		}
	}
	for _, path := range []string{at("/notices/%d/answer", n.ID), at("/lots/%d/end", lot.ID)} {
		g.post(path, url.Values{"csrf": {csrf}, "answer": {"harvested"}}).is(404)
	}
	// what names another farm's entry inside a form
	for path, body := range map[string]url.Values{
		"/beds/new":     {"field_id": {fmt.Sprint(f.ID)}, "name": {"B9"}, "crop": {"chard"}},
		"/readings/new": {"field_id": {fmt.Sprint(f.ID)}, "quantity": {"air_min_c"}, "value": {"20"}, "at": {"2026-11-15T07:00"}},
		"/findings/new": {"bed_id": {fmt.Sprint(b.ID)}, "night": {"2026-11-13"}, "lost_fraction": {"30"}},
		"/lots/new":     {"room_id": {fmt.Sprint(room.ID)}, "crop": {"carrot"}, "kg": {"10"}, "harvested_at": {"2026-11-14T10:00"}},
	} {
		body.Set("csrf", csrf)
		g.post(path, body).is(422)
	}
	assert.Equal(t, before, w.state())
	g.get("/notices?bed=" + fmt.Sprint(b.ID)).is(200).silent("B1")
}

func TestStrangersAreLedToSignInAndComeBack(t *testing.T) {
	w := newWorld(t)
	b, f, r, room := w.small()
	s := w.stranger()
	for _, path := range append(emptyPaths(), fmt.Sprintf("/beds/%d", b.ID), "/notices.csv") {
		res := s.get(path).is(303)
		assert.True(t, strings.HasPrefix(res.header.Get("Location"), "/signin"), path)
	}
	before := w.state()
	for path, body := range posts(b, f, r, room) {
		s.post(path, body).is(403)
	}
	assert.Equal(t, before, w.state())

	to := s.get("/notices?bed=1").header.Get("Location")
	form := s.get(to).is(200).form("/signin/token")
	form.Set("token", w.token)
	assert.Equal(t, "/notices?bed=1", s.post("/signin/token", form).is(303).header.Get("Location"))
}

func TestSigningInLeadsNowhereElse(t *testing.T) {
	for path, want := range map[string]string{"/beds/1?x=1": "/beds/1?x=1", "//evil.example": "", "https://evil.example": "", `/\evil.example`: "",
		"": "", "beds": "", "/a\r\nSet-Cookie: x": ""} {
		assert.Equal(t, want, local(path), path)
	}
}

func TestASessionEndsWithItsTimeItsTokenItsPersonAndByHand(t *testing.T) {
	w := newWorld(t)
	ana := w.person("Ana", "ana@example.org", "")
	t.Run("time", func(t *testing.T) {
		g := w.grower()
		w.now = noon.Add(sessionFor - time.Minute)
		g.get("/").is(200)
		w.now = noon.Add(sessionFor + time.Minute)
		g.get("/").is(303)
		w.now = noon
	})
	t.Run("token", func(t *testing.T) {
		made, err := w.commands.MakeToken(w.ctx(), "Hill Farm", farm.ScopeWrite)
		require.NoError(t, err)
		g := w.holder(made.Token)
		g.get("/").is(200)
		require.NoError(t, w.commands.RevokeToken(w.ctx(), made.Token))
		g.get("/").is(303)
	})
	t.Run("person", func(t *testing.T) {
		g := w.follow(ana)
		g.get("/").is(200).says("Signed in: Ana.")
		require.NoError(t, w.commands.RemoveRecipient(w.ctx(), w.farmID, ana.ID, unit.None[int64]()))
		g.get("/").is(303)
	})
	t.Run("by hand", func(t *testing.T) {
		g := w.grower()
		cookies := g.client.Jar.Cookies(mustParse(t, w.server.URL))
		g.post("/signout", g.get("/").form("/signout")).is(303)
		g.get("/").is(303)
		old := w.stranger()
		old.client.Jar.SetCookies(mustParse(t, w.server.URL), cookies)
		old.get("/").is(303) // the cookie alone opens nothing any more
	})
}

func mustParse(t *testing.T, s string) *url.URL {
	t.Helper()
	u, err := url.Parse(s)
	require.NoError(t, err)
	return u
}

func TestTheBookKeepsOnlyTheHashOfASession(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	for _, c := range g.client.Jar.Cookies(mustParse(t, w.server.URL)) {
		if c.Name != "winterstand-session" {
			continue
		}
		_, err := w.store.Session(w.ctx(), c.Value)
		assert.ErrorIs(t, err, store.ErrNotFound)
		s, err := w.store.Session(w.ctx(), commands.HashToken(c.Value))
		require.NoError(t, err)
		assert.Equal(t, farm.ScopeWrite, s.Scope)
		assert.NotContains(t, c.Value, strings.TrimPrefix(w.token, commands.TokenPrefix), "the token itself stays out of the browser")
	}
}

func TestCookiesAreForThisHostOnlyAndSecureOverHTTPS(t *testing.T) {
	w := newWorld(t)
	w.serve(func(o *Options) { o.PublicURL = "https://farm.example" })
	s := w.stranger()
	r := s.get("/signin").is(200)
	c := r.header.Get("Set-Cookie")
	assert.Regexp(t, `^__Host-winterstand-form=`, c)
	for _, want := range []string{"Path=/", "HttpOnly", "Secure", "SameSite=Lax"} {
		assert.Contains(t, c, want)
	}
	assert.NotContains(t, c, "Domain=")
	assert.Equal(t, "max-age=31536000", r.header.Get("Strict-Transport-Security"))
}

func TestAFormThatIsTooLargeIsRefused(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	form := g.get("/fields/new").form("/fields/new")
	form.Set("name", strings.Repeat("x", maxForm+1))
	before := w.state()
	g.post("/fields/new", form).is(400)
	assert.Equal(t, before, w.state())
}

func TestAPanicIsAPlainPage(t *testing.T) {
	w := newWorld(t)
	w.field("North field")
	w.serve(func(o *Options) { o.Judge = nil })
	b, _, _, _ := w.small()
	w.grower().get(fmt.Sprintf("/beds/%d", b.ID)).is(500).says("Something went wrong on our side").silent("runtime error")
	assert.Contains(t, w.log.String(), "page failed")
}

func TestAFailureIsLoggedAndNotShown(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	w.judge.err = errTest
	w.grower().get(fmt.Sprintf("/beds/%d", b.ID)).is(500).says("Something went wrong").silent("broken on purpose")
	assert.Contains(t, w.log.String(), "broken on purpose")
	assert.NotContains(t, w.log.String(), w.token)
}
