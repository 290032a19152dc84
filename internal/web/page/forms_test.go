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
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

// with sets values over those a browser would send.
func with(form url.Values, pairs ...string) url.Values {
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

func TestABedIsEnteredInTheFarmsUnits(t *testing.T) {
	w := newWorld(t)
	f := w.field("North field")
	g := w.grower()
	form := with(g.get("/beds/new").is(200).form("/beds/new"), "field_id", fmt.Sprint(f.ID), "name", " B4 ", "crop", "chard", "purpose", "fresh",
		"standing_kg", "100", "mulch_cm", "4", "cost_loss", "25", "tolerance_shift_k", "-1.8", "price_per_kg", "3", "lift_kg_per_hour", "50,5",
		"sown_on", "2026-07-20", "covers[0].kind", "low_tunnel", "covers[0].on", "2026-10-20")
	to := g.post("/beds/new", form).is(303).header.Get("Location")
	g.get(to).is(200).says("The bed is entered", "100 lb", "4 in", "low tunnel")
	beds, err := w.store.Beds(w.ctx(), w.farmID, store.BedFilter{})
	require.NoError(t, err)
	require.Len(t, beds, 1)
	b := beds[0]
	assert.Equal(t, "B4", b.Name)
	near := func(want float64, m unit.Maybe[float64]) {
		t.Helper()
		got, ok := m.Get()
		assert.True(t, ok)
		assert.InDelta(t, want, got, 1e-9)
	}
	near(45.359237, b.StandingKg)    // 100 lb, exact by the definition of the pound (1959)
	near(3/0.45359237, b.PricePerKg) // 3 USD/lb
	near(50.5*0.45359237, b.LiftKgPerHour)
	near(0.25, b.CostLossSet)
	assert.InDelta(t, 10.16, b.MulchOn("2026-11-15"), 1e-9) // 4 in of 2.54 cm
	k, _ := b.ToleranceSet.Get()
	assert.InDelta(t, -1.0, float64(k), 1e-9) // −1.8 °F is −1 K
	assert.Equal(t, []farm.Cover{{Kind: "low_tunnel", On: "2026-10-20"}}, b.Covers)
}

func TestAFormThatIsShownAndSavedUntouchedChangesNothing(t *testing.T) {
	w := newWorld(t)
	b, f, r, room := w.small()
	_, err := w.commands.ChangeBed(w.ctx(), w.farmID, b.ID, unit.None[int64](), commands.BedInput{StandingKg: commands.Set(33.3333), MulchCm: commands.Set(7.7), PricePerKg: commands.Set(1.234567)})
	require.NoError(t, err)
	before, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	g := w.grower()
	for _, path := range []string{fmt.Sprintf("/beds/%d/change", b.ID), fmt.Sprintf("/fields/%d/change", f.ID), fmt.Sprintf("/recipients/%d/change", r.ID),
		fmt.Sprintf("/rooms/%d/change", room.ID), "/settings"} {
		page := g.get(path).is(200)
		form := page.form(path)
		for name, value := range selected(page.body) {
			form.Set(name, value)
		}
		g.post(path, form).is(303)
	}
	after, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	before.Version, after.Version = 0, 0
	assert.Equal(t, before, after, "33.3333 kg are shown as 73.5 lb and must not become 33.34 kg")
	room2, err := w.store.Room(w.ctx(), w.farmID, room.ID)
	require.NoError(t, err)
	assert.Equal(t, unit.Celsius(3.9), room2.Temperature)
	owner, err := w.store.Farm(w.ctx(), w.farmID)
	require.NoError(t, err)
	assert.True(t, owner.StillWatching)
	assert.Equal(t, farm.DefaultNoticeLead, owner.NoticeLead)
}

// selected are the chosen options of a page's lists, by the name of the list.
func selected(body string) map[string]string {
	out := map[string]string{}
	for _, part := range strings.Split(body, "<select ")[1:] {
		part, _, _ = strings.Cut(part, "</select>")
		name := part[strings.Index(part, `name="`)+6:]
		name = name[:strings.IndexByte(name, '"')]
		for _, option := range strings.Split(part, "<option ")[1:] {
			if strings.Contains(option, " selected") {
				value := option[strings.Index(option, `value="`)+7:]
				out[name] = value[:strings.IndexByte(value, '"')]
			}
		}
	}
	return out
}

func TestWhatIsWrongStandsBesideItsBoxAndValuesAreKept(t *testing.T) {
	w := newWorld(t)
	b, f, r, room := w.small()
	g := w.grower()
	field, bed := fmt.Sprint(f.ID), fmt.Sprint(b.ID)
	cases := []struct {
		path  string
		give  []string
		id    string // of the box
		words string
		kept  string
	}{
		{"/fields/new", []string{"name", "West"}, "f-latitude", "Please fill this in.", "West"},
		{"/fields/new", []string{"name", "West", "latitude", "146", "longitude", "0"}, "f-latitude", "from -90 to 90 °", "146"},
		{"/fields/new", []string{"name", "West", "latitude", "north", "longitude", "0"}, "f-latitude", "Please write a number", "north"},
		{"/fields/new", []string{"name", "West", "latitude", "46", "longitude", "0", "time_zone", "Chicago"}, "f-time_zone", "America/New_York", "Chicago"},
		{"/fields/new", []string{"name", "West", "latitude", "46", "longitude", "0", "soil", "mud"}, "f-soil", "choose one from the list", ""},
		{"/fields/new", []string{"name", "West", "latitude", "46", "longitude", "0", "low_spot_k", "-3"}, "f-low_spot_k", "from 0 to 27 °F", "-3"},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "unicorn"}, "f-crop", "choose one from the list", "B9"},
		{"/beds/new", []string{"field_id", field, "crop", "chard", "name", ""}, "f-name", "Please fill this in.", ""},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "chard", "standing_kg", "-5"}, "f-standing_kg", "lb", "-5"},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "chard", "cost_loss", "100"}, "f-cost_loss", "more than 0 and less than 100 %", "100"},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "chard", "sown_on", "soon"}, "f-sown_on", "like 2026-07-20, today at the latest", "soon"},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "chard", "sown_on", "2027-07-20"}, "f-sown_on", "today at the latest", "2027-07-20"},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "chard", "covers[0].kind", "low_tunnel", "covers[0].on", "2026-11-10", "covers[0].off", "2026-11-09"}, "f-covers-0-off", "A date after the one", "2026-11-09"},
		{"/beds/new", []string{"field_id", field, "name", "B9", "crop", "chard", "covers[0].kind", "low_tunnel"}, "f-covers-0-on", "A date, like", "B9"},
		{fmt.Sprintf("/beds/%s/change", bed), []string{"name", ""}, "f-name", "Please fill this in.", ""},
		{fmt.Sprintf("/beds/%s/change", bed), []string{"mulch_cm", "99"}, "f-mulch_cm", "from 0 to 23.6 in", "99"},
		{"/recipients/new", []string{"name", "Bo"}, "f-email", "E-mail or phone is needed", "Bo"},
		{"/recipients/new", []string{"name", "Bo", "email", "bo at example"}, "f-email", "like crew@example.org", "bo at example"},
		{"/recipients/new", []string{"name", "Bo", "phone", "555 0123"}, "f-phone", "A number with + and country code", "555 0123"},
		{"/recipients/new", []string{"name", "Bo", "email", "bo@example.org", "quiet_from", "21:30"}, "f-quiet_to", "Both times or neither", "21:30"},
		{"/readings/new", []string{"field_id", field, "quantity", "air_min_c", "value", "300", "at", "2026-11-15T07:00"}, "f-value", "from -94 to 140 °F", "300"},
		{"/readings/new", []string{"field_id", field, "quantity", "soil_c", "value", "30", "at", "2026-11-15T07:00"}, "f-depth_cm", "A depth is needed for soil", "30"},
		{"/readings/new", []string{"field_id", field, "quantity", "air_c", "value", "30", "at", "2026-12-15T07:00"}, "f-at", "that has passed", "2026-12-15T07:00"},
		{"/readings/new", []string{"field_id", field, "quantity", "air_c", "value", "30", "at", "this morning"}, "f-at", "A date and time", "this morning"},
		{"/findings/new", []string{"bed_id", bed, "night", "2026-11-15", "lost_fraction", "30"}, "f-night", "A night that has passed", "2026-11-15"},
		{"/findings/new", []string{"bed_id", bed, "night", "2026-11-13", "lost_fraction", "130"}, "f-lost_fraction", "from 0 to 100 %", "130"},
		{"/findings/new", []string{"night", "2026-11-13", "lost_fraction", "30"}, "f-bed_id", "Please fill this in.", "30"},
		{"/rooms/new", []string{"name", "Fridge", "kind", "fridge", "temperature_c", "390"}, "f-temperature_c", "from -40 to 104 °F", "390"},
		{"/rooms/new", []string{"name", "Fridge", "kind", "fridge", "temperature_c", "39", "humidity", "950"}, "f-humidity", "from 0 to 100 %", "950"},
		{fmt.Sprintf("/rooms/%d/change", room.ID), []string{"temperature_c", ""}, "f-temperature_c", "Please fill this in.", ""},
		{"/lots/new", []string{"room_id", fmt.Sprint(room.ID), "crop", "carrot", "kg", "0", "harvested_at", "2026-11-14T10:00"}, "f-kg", "from 0 to", "0"},
		{"/lots/new", []string{"room_id", fmt.Sprint(room.ID), "crop", "carrot", "kg", "9", "harvested_at", "2026-11-14T10:00", "cured_at", "2026-11-01T10:00"}, "f-cured_at", "not before the harvest", "2026-11-01T10:00"},
		{"/settings", []string{"notice_lead_h", "1"}, "f-notice_lead_h", "from 6 to 240 h", "1"},
		{"/settings", []string{"currency", "DOLLAR"}, "f-currency", "Three letters", "DOLLAR"},
		{"/settings", []string{"time_zone", "Chicago"}, "f-time_zone", "America/New_York", "Chicago"},
		{"/settings/crew", []string{"crew[0].day", "mon", "crew[0].from", "12:00", "crew[0].to", "08:00", "crew[0].people", "2"}, "f-crew-0-to", "later than the first", "12:00"},
		{"/settings/crew", []string{"crew[0].day", "mon", "crew[0].from", "08:00", "crew[0].to", "12:00", "crew[0].people", "two"}, "f-crew-0-people", "Please write a number", "two"},
		{"/settings/wanted", []string{"wanted[0].crop", "chard", "wanted[0].kg_per_week", "5", "wanted[0].from", "2026-12-01", "wanted[0].to", "2026-11-01"}, "f-wanted-0-to", "not before the first", "2026-12-01"},
		{fmt.Sprintf("/recipients/%d/change", r.ID), []string{"email", ""}, "f-email", "E-mail or phone is needed", ""},
	}
	before := w.state()
	for _, c := range cases {
		t.Run(c.path+" "+strings.Join(c.give, " "), func(t *testing.T) {
			page := g.get(c.path).is(200)
			res := g.post(c.path, with(page.form(c.path), c.give...))
			require.Equal(t, 422, res.status)
			sound(t, res)
			assert.Contains(t, res.body, `id="wrongs" tabindex="-1" role="alert" autofocus`, "a summary that can be reached")
			assert.Contains(t, res.body, `<a href="#`+c.id+`">`, "the summary leads to the box")
			_, after, ok := strings.Cut(res.body, `id="`+c.id+`-wrong">`)
			require.True(t, ok, "%s is not marked; the page says: %.700s", c.id, plain(res.body))
			text, _, _ := strings.Cut(after, "<")
			assert.Contains(t, plain(text), c.words)
			assert.Contains(t, res.body, `aria-invalid="true"`)
			if c.kept != "" {
				assert.Contains(t, strings.ReplaceAll(res.body, "&#43;", "+"), `value="`+c.kept+`"`)
			}
			assert.Contains(t, plain(res.body), "Not saved:")
		})
	}
	assert.Equal(t, before, w.state())
}

func TestEverythingThatIsWrongIsSaidAtOnce(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	form := with(g.get("/fields/new").form("/fields/new"), "name", "", "latitude", "146", "longitude", "abc", "low_spot_k", "99")
	r := g.post("/fields/new", form).is(422)
	for _, id := range []string{"f-name", "f-latitude", "f-longitude", "f-low_spot_k"} {
		assert.Contains(t, r.body, `<a href="#`+id+`">`)
	}
	assert.Contains(t, r.body, `<option value="loam" selected>`, "what was not sent stays as it was")
}

func TestAChangeOnAnOldVersionIsShownNotSaved(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	g := w.grower()
	path := fmt.Sprintf("/beds/%d/change", b.ID)
	page := g.get(path).is(200)
	form := page.form(path)
	for name, value := range selected(page.body) {
		form.Set(name, value)
	}
	_, err := w.commands.ChangeBed(w.ctx(), w.farmID, b.ID, unit.None[int64](), commands.BedInput{Variety: commands.Set("Fordhook")})
	require.NoError(t, err)
	res := g.post(path, with(form, "name", "B7")).is(422).says("Somebody else has changed this meanwhile")
	assert.Contains(t, res.body, `value="B7"`)
	kept, err := w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.Equal(t, "B1", kept.Name)
	assert.Equal(t, "Fordhook", kept.Variety)
	again := res.form(path)
	g.post(path, with(again, "crop", "chard", "purpose", "fresh", "variety", "Fordhook")).is(303)
	kept, err = w.store.Bed(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.Equal(t, "B7", kept.Name)
}

func TestFieldsPeopleRoomsLotsReadingsAndFindingsAreEntered(t *testing.T) {
	w := newWorld(t)
	b, f, _, room := w.small()
	g := w.grower()
	send := func(path string, pairs ...string) {
		t.Helper()
		g.post(path, with(g.get(path).is(200).form(path), pairs...)).is(303)
	}
	send("/fields/new", "name", "West", "latitude", "46.25", "longitude", "-92.5", "elevation_m", "1000", "soil", "clay", "low_spot_k", "1.8")
	fields, err := w.store.Fields(w.ctx(), w.farmID, store.Page{})
	require.NoError(t, err)
	west := fields[len(fields)-1]
	m, _ := west.Elevation.Get()
	assert.InDelta(t, 304.8, m, 1e-9) // 1000 ft
	assert.InDelta(t, 1.0, float64(west.LowSpot), 1e-9)
	assert.Equal(t, "clay", west.Soil)

	send("/recipients/new", "name", "Bo", "phone", "+1 207 555 0199", "quiet_from", "21:30", "quiet_to", "06:00", "kinds", "moved")
	people, err := w.store.Recipients(w.ctx(), w.farmID, store.Page{})
	require.NoError(t, err)
	bo := people[len(people)-1]
	assert.Equal(t, "+12075550199", bo.Phone)
	assert.Equal(t, []string{"moved"}, bo.Kinds)
	assert.Equal(t, "21:30", bo.QuietFrom)

	send("/readings/new", "field_id", fmt.Sprint(f.ID), "quantity", "air_min_c", "value", "8", "at", "2026-11-15T07:10")
	rs, err := w.store.Readings(w.ctx(), w.farmID, f.ID, w.now.AddDate(0, 0, -1), w.now.Add(time.Hour))
	require.NoError(t, err)
	require.Len(t, rs, 1)
	assert.InDelta(t, -13.333333, rs[0].Value, 1e-6) // 8 °F
	assert.True(t, rs[0].At.Equal(w.local(15, 7, 10)), "local time of the field: %s", rs[0].At)
	send("/readings/new", "field_id", fmt.Sprint(f.ID), "quantity", "snow_depth_cm", "value", "10", "at", "2026-11-15T08:00")
	rs, err = w.store.Readings(w.ctx(), w.farmID, f.ID, w.now.AddDate(0, 0, -1), w.now.Add(time.Hour))
	require.NoError(t, err)
	assert.InDelta(t, 25.4, rs[1].Value, 1e-9) // 10 in

	send("/findings/new", "bed_id", fmt.Sprint(b.ID), "night", "2026-11-13", "lost_fraction", "30", "note", "outer leaves")
	found, err := w.store.Findings(w.ctx(), w.farmID, b.ID)
	require.NoError(t, err)
	assert.InDelta(t, 0.3, found[0].LostFraction, 1e-12)

	send("/rooms/new", "name", "Fridge", "kind", "fridge", "temperature_c", "39", "humidity", "95", "capacity_kg", "1000")
	rooms, err := w.store.Rooms(w.ctx(), w.farmID, store.Page{})
	require.NoError(t, err)
	assert.InDelta(t, 3.888889, float64(rooms[len(rooms)-1].Temperature), 1e-6) // 39 °F
	assert.InDelta(t, 453.59237, rooms[len(rooms)-1].CapacityKg.Else(0), 1e-6)

	send("/lots/new", "room_id", fmt.Sprint(room.ID), "crop", "carrot", "kg", "220", "harvested_at", "2026-11-14T10:00", "container", "bag")
	lots, err := w.store.Lots(w.ctx(), w.farmID, store.Page{})
	require.NoError(t, err)
	require.Len(t, lots, 1)
	assert.InDelta(t, 99.790321, lots[0].Kg, 1e-6)
	g.get("/lots").is(200).says("220 lb", "carrot, Cellar", "bag")
	end := fmt.Sprintf("/lots/%d/end", lots[0].ID)
	g.post(end, g.get("/lots").form(end)).is(303)
	g.get("/lots").says("Nothing is in store.")
}

func TestRowsOfCrewAndWantsAreSavedAndTakenOutAgain(t *testing.T) {
	w := newWorld(t)
	g := w.grower()
	save := func(path string, pairs ...string) {
		t.Helper()
		page := g.get(path)
		form := page.form(path)
		for name, value := range selected(page.body) {
			form.Set(name, value)
		}
		g.post(path, with(form, pairs...)).is(303)
	}
	save("/settings/crew", "crew[0].day", "mon", "crew[0].from", "08:00", "crew[0].to", "12:00", "crew[0].people", "2,5")
	save("/settings/wanted", "wanted[1].crop", "chard", "wanted[1].kg_per_week", "10", "wanted[1].from", "2026-11-01", "wanted[1].to", "2027-02-28")
	f, err := w.store.Farm(w.ctx(), w.farmID)
	require.NoError(t, err)
	assert.Equal(t, []farm.Shift{{Day: "mon", From: "08:00", To: "12:00", People: 2.5}}, f.Crew)
	require.Len(t, f.Wanted, 1)
	assert.InDelta(t, 4.5359237, f.Wanted[0].KgPerWeek, 1e-9)
	save("/settings/crew", "crew[0].day", "")
	f, err = w.store.Farm(w.ctx(), w.farmID)
	require.NoError(t, err)
	assert.Empty(t, f.Crew)
}

func TestSettingsChangeUnitsLanguageAndTheWeeklySign(t *testing.T) {
	w := newWorld(t)
	b, _, _, _ := w.small()
	g := w.grower()
	form := with(g.get("/settings").is(200).form("/settings"), "units", "metric", "language", "es", "notice_lead_h", "48")
	form.Del("still_watching")
	g.post("/settings", form).is(303)
	f, err := w.store.Farm(w.ctx(), w.farmID)
	require.NoError(t, err)
	assert.Equal(t, unit.Metric, f.Units)
	assert.False(t, f.StillWatching)
	assert.Equal(t, 48*time.Hour, f.NoticeLead)
	g.get(fmt.Sprintf("/beds/%d", b.ID)).is(200).says("80 kg", "acelga")
}

func TestWhatStillHoldsSomethingIsNotRemoved(t *testing.T) {
	w := newWorld(t)
	b, f, _, room := w.small()
	_, err := w.commands.AddLot(w.ctx(), w.farmID, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set("carrot"), Kg: commands.Set(9.0), HarvestedAt: commands.Set(w.now)})
	require.NoError(t, err)
	g := w.grower()
	csrf := g.get("/").form("/signout").Get("csrf")
	g.post(fmt.Sprintf("/fields/%d/remove", f.ID), url.Values{"csrf": {csrf}}).is(409).says("Beds still stand in this field")
	g.post(fmt.Sprintf("/rooms/%d/remove", room.ID), url.Values{"csrf": {csrf}}).is(409).says("Lots are still kept in this room")
	require.NoError(t, w.commands.ClearBed(w.ctx(), w.farmID, b.ID, unit.None[int64]()))
	path := fmt.Sprintf("/fields/%d/remove", f.ID)
	g.post(path, g.get("/fields").form(path)).is(303)
	g.get("/fields").silent("North field")
}

func TestATestMessageIsQueued(t *testing.T) {
	w := newWorld(t)
	_, _, r, _ := w.small()
	g := w.grower()
	path := fmt.Sprintf("/recipients/%d/test", r.ID)
	g.post(path, g.get("/recipients").form(path)).is(303)
	ms, err := w.store.Messages(w.ctx(), w.farmID, store.Page{})
	require.NoError(t, err)
	require.Len(t, ms, 1)
	assert.True(t, ms[0].Test)
}
