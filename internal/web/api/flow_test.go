package api

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/skill"
	"winterstand/internal/service/commands"
	"winterstand/internal/service/plan"
	"winterstand/internal/storage/keeping"
	"winterstand/internal/storage/lifting"
	"winterstand/internal/storage/supply"
	"winterstand/internal/store"
	"winterstand/internal/unit"
)

func TestTheFarm(t *testing.T) {
	w := newWorld(t)
	f := read[Farm](w.do("GET", "/v1/farm", "").is(200))
	assert.Equal(t, 72.0, f.NoticeLeadH)
	assert.Equal(t, 6.0, f.MovedStepH)
	assert.Equal(t, 24.0, f.BlindAfterH)
	assert.Equal(t, unit.Celsius(-20), f.WindChillLimit)
	w.do("PATCH", "/v1/farm", `{"units":"us","language":"es","currency":"cad","time_zone":"America/Chicago","notice_lead_h":48,"still_watching":false,
		"crew":[{"day":"mon","from":"08:00","to":"16:30","people":2.5}],"wanted":[{"crop":"carrots","kg_per_week":40,"from":"2026-11-01","to":"2027-03-01"}]}`).is(200)
	got := read[Farm](w.do("GET", "/v1/farm", "").is(200))
	assert.Equal(t, unit.US, got.Units)
	assert.Equal(t, "CAD", got.Currency)
	assert.Equal(t, 48.0, got.NoticeLeadH)
	assert.False(t, got.StillWatching)
	assert.Equal(t, []farm.Shift{{Day: "mon", From: "08:00", To: "16:30", People: 2.5}}, got.Crew)
	assert.Equal(t, "carrot", got.Wanted[0].Crop)
	assert.Equal(t, f.Name, got.Name)
	assert.Equal(t, f.Version+1, got.Version)
	assert.Equal(t, "America/Chicago", got.TimeZone)
}

// A farm begins without a zone of its own: what is shown is that in force.
func TestTheZoneInForceIsShown(t *testing.T) {
	w := newWorld(t)
	zone := func() string { return read[Farm](w.do("GET", "/v1/farm", "").is(200)).TimeZone }
	assert.Equal(t, "UTC", zone(), "no field yet")
	w.do("POST", "/v1/fields", `{"name":"Low","latitude":63.43,"longitude":10.4}`).is(201)
	assert.Equal(t, "Europe/Oslo", zone())
	w.do("PATCH", "/v1/farm", `{"time_zone":"UTC"}`).is(200)
	assert.Equal(t, "UTC", zone(), "set by somebody")
	changed := read[Farm](w.do("PATCH", "/v1/farm", `{"time_zone":null}`).is(200))
	assert.Equal(t, "Europe/Oslo", changed.TimeZone)
}

// verdict puts a verdict into the book as a round would.
func (w *world) verdict(bed Bed, v farm.Verdict) {
	w.Helper()
	require.NoError(w, w.store.Write(w.Context(), func(tx store.Writer) error {
		return tx.SaveVerdicts(w.Context(), []store.Verdict{{BedID: bed.ID, Kept: farm.Keep(v)}})
	}))
}

func sample() farm.Verdict {
	return farm.Verdict{
		State: farm.HarvestBefore, AsOf: noon, Night: "2026-11-16", HarvestBefore: unit.Some(noon.Add(50 * time.Hour)),
		Likelihood: unit.Some(0.7), Tolerance: unit.Some(unit.Celsius(-7.5)), LossShare: 0.2, CostLoss: 0.2,
		Nights:   []farm.NightRisk{{Night: "2026-11-16", Likelihood: 0.7}},
		Forecast: farm.Basis{Source: "nws", Issued: noon.Add(-2 * time.Hour), Credit: "National Weather Service"},
	}
}

func TestABedShowsItsVerdict(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	assert.Equal(t, farm.Unknown, bed.Verdict.State, "nobody has looked yet")
	assert.NotEmpty(t, bed.Verdict.Reason)
	unknown := read[map[string]map[string]any](reply{T: t, body: []byte(`{"verdict":` + str(bed.Verdict) + `}`)})["verdict"]
	for _, member := range []string{"likelihood", "tolerance_c", "as_of", "forecast_issued_at"} {
		v, there := unknown[member]
		assert.True(t, there && v == nil, "%s: unknown is null, not zero", member)
	}
	w.verdict(bed, sample())
	raw := w.do("GET", "/v1/beds/"+str(bed.ID), "").is(200)
	var plain struct {
		Verdict map[string]any `json:"verdict"`
	}
	require.NoError(t, json.Unmarshal(raw.body, &plain))
	for member, want := range map[string]any{
		"state": "harvest_before", "harvest_before": "2026-11-16T20:00:00Z", "likelihood": 0.7, "reason": "because of America/Chicago",
		"tolerance_c": -7.5, "as_of": "2026-11-14T18:00:00Z", "forecast_issued_at": "2026-11-14T16:00:00Z", "credit": "National Weather Service",
	} {
		assert.Equal(t, want, plain.Verdict[member], member)
	}
	assert.NotEmpty(t, plain.Verdict["nights"])
	listed := read[List[Bed]](w.do("GET", "/v1/beds", "").is(200)).Items
	require.Len(t, listed, 1)
	assert.Equal(t, unit.Some(0.7), listed[0].Verdict.Likelihood)
	assert.Empty(t, listed[0].Verdict.Nights, "lists are brief")

	w.do("DELETE", "/v1/beds/"+str(bed.ID), "").is(204)
	ended := read[Bed](w.do("GET", "/v1/beds/"+str(bed.ID), "").is(200))
	assert.Nil(t, ended.Verdict)
	assert.True(t, ended.ClearedAt.Known())
	assert.Empty(t, read[List[Bed]](w.do("GET", "/v1/beds", "").is(200)).Items)
	assert.Len(t, read[List[Bed]](w.do("GET", "/v1/beds?cleared=true", "").is(200)).Items, 1)
	w.do("PATCH", "/v1/beds/"+str(bed.ID), `{"name":"x"}`).refused(409, "", "cleared")
	w.do("GET", "/v1/beds/"+str(bed.ID)+"/outlook", "").refused(409, "", "cleared")
}

func TestOutlookAndWhatIf(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	w.verdict(bed, sample())
	w.judge.outlook = Outlook{Verdict: sample(), Hours: []OutlookHour{
		{At: noon, AirP50: unit.Some(unit.Celsius(0)), Tolerance: unit.Some(unit.Celsius(-7)), Workable: unit.Some(false)}, {At: noon.Add(time.Hour)},
	}}
	var o map[string]any
	require.NoError(t, json.Unmarshal(w.do("GET", "/v1/beds/"+str(bed.ID)+"/outlook", "").is(200).body, &o))
	assert.Equal(t, "America/Chicago", o["time_zone"])
	series := o["series"].([]any)
	assert.Equal(t, map[string]any{"at": "2026-11-14T18:00:00Z", "air_p50_c": 0.0, "tolerance_c": -7.0, "workable": false}, series[0])
	assert.Equal(t, map[string]any{"at": "2026-11-14T19:00:00Z"}, series[1], "what is missing is left out")

	w.judge.verdict = farm.Verdict{State: farm.Holds, Likelihood: unit.Some(0.05)}
	before := w.counts()
	got := read[WhatIfAnswer](w.do("POST", "/v1/beds/"+str(bed.ID)+"/what-if", `{"cover":"row_cover_heavy","mulch_cm":10,"harvest_fraction":0.25}`).is(200))
	assert.Equal(t, WhatIf{Cover: unit.Some("row_cover_heavy"), MulchCm: unit.Some(10.0), HarvestFraction: unit.Some(0.25)}, w.judge.asked)
	assert.Equal(t, farm.Holds, got.Verdict.State)
	assert.Equal(t, farm.HarvestBefore, got.AsItStands.State)
	assert.Equal(t, unit.Some(60.0), got.StandingKg)
	assert.Equal(t, unit.Some(20.0), got.HarvestedKg)
	assert.Equal(t, before, w.counts(), "a question changes nothing")
}

func TestPagesFollowEachOther(t *testing.T) {
	w := newWorld(t)
	f := str(w.field().ID)
	for i := range 5 {
		w.do("POST", "/v1/beds", fmt.Sprintf(`{"field_id":%s,"name":"B%d","crop":"chard"}`, f, i)).is(201)
	}
	var names []string
	pages := 0
	for next := "/v1/beds?limit=2&field_id=" + f; next != ""; pages++ {
		r := w.do("GET", next, "").is(200)
		page := read[List[Bed]](r)
		for _, b := range page.Items {
			names = append(names, b.Name)
		}
		next = page.Next
		if next != "" {
			assert.Equal(t, "<"+next+`>; rel="next"`, r.header.Get("Link"))
		}
	}
	assert.Equal(t, []string{"B0", "B1", "B2", "B3", "B4"}, names)
	assert.Equal(t, 3, pages)
}

func TestReadingsAndFindings(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	f := str(bed.FieldID)
	one := read[Reading](w.do("POST", "/v1/readings", `{"field_id":`+f+`,"at":"2026-11-14T07:00:00-06:00","quantity":"air_min_c","value":-6.7}`).is(201))
	assert.Equal(t, time.Date(2026, 11, 14, 13, 0, 0, 0, time.UTC), one.At)
	var many []string
	for i := range 5 {
		many = append(many, fmt.Sprintf(`{"field_id":%s,"at":"2026-11-13T%02d:00:00Z","quantity":"air_c","value":%d}`, f, i/2, i))
	}
	got := read[List[Reading]](w.do("POST", "/v1/readings/bulk", `{"readings":[`+strings.Join(many, ",")+`]}`).is(201))
	assert.Len(t, got.Items, 5)
	var values []float64
	for next := "/v1/readings?limit=1&field_id=" + f; next != ""; {
		page := read[List[Reading]](w.do("GET", next, "").is(200))
		for _, r := range page.Items {
			values = append(values, r.Value)
		}
		next = page.Next
	}
	assert.Equal(t, []float64{0, 1, 2, 3, 4, -6.7}, values, "two of one instant stay together, none is lost")

	w.do("POST", "/v1/findings", `{"bed_id":`+str(bed.ID)+`,"night":"2026-11-13","lost_fraction":0.3,"note":"outer leaves\nslimy"}`).is(201)
	w.do("POST", "/v1/findings", `{"bed_id":`+str(bed.ID)+`,"night":"2026-11-12","lost_fraction":0}`).is(201)
	page := read[List[Finding]](w.do("GET", "/v1/findings?limit=1&bed_id="+str(bed.ID), "").is(200))
	require.Len(t, page.Items, 1)
	assert.Equal(t, 0.3, page.Items[0].LostFraction)
	page = read[List[Finding]](w.do("GET", page.Next, "").is(200))
	require.Len(t, page.Items, 1)
	assert.Equal(t, 0.0, page.Items[0].LostFraction)
	assert.Empty(t, page.Next)
}

// A list says of each bed by when and why; the nights behind it are asked for bed by bed.
func TestAListOfBedsIsBrief(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	v := sample()
	v.Helps = []farm.Help{{Cover: "low_tunnel", Likelihood: 0.1, Holds: true}}
	v.Windows = []farm.Window{{Start: noon, End: noon.Add(3 * time.Hour)}}
	v.Regrowth, v.CostLoss = unit.Some(0.25), 0
	w.verdict(bed, v)
	listed := read[List[Bed]](w.do("GET", "/v1/beds", "").is(200)).Items[0].Verdict
	assert.Empty(t, listed.Nights)
	assert.Empty(t, listed.Windows)
	assert.Empty(t, listed.Helps)
	assert.Equal(t, v.HarvestBefore, listed.HarvestBefore)
	whole := read[Bed](w.do("GET", "/v1/beds/"+str(bed.ID), "").is(200)).Verdict
	assert.Equal(t, v.Nights, whole.Nights)
	assert.Equal(t, v.Helps, whole.Helps)
	assert.Len(t, whole.Windows, 1)
	assert.Equal(t, []unit.Maybe[float64]{unit.Some(0.2), unit.None[float64](), unit.Some(0.25)}, []unit.Maybe[float64]{whole.LossShare, whole.CostLoss, whole.Regrowth}, "0 is not set")
}

func TestNoticesAndAnswers(t *testing.T) {
	w := newWorld(t)
	bed := w.bed()
	first := w.notice(bed, notice.HarvestBefore)
	second := w.notice(bed, notice.LastCall)
	list := read[List[Notice]](w.do("GET", "/v1/notices?bed_id="+str(bed.ID), "").is(200)).Items
	require.Len(t, list, 2)
	assert.Equal(t, second, list[0].ID, "newest first")
	assert.Equal(t, "told harvest-before", list[1].Reason)
	assert.Empty(t, list[0].Facts)
	for query, want := range map[string]int{
		"kind=last-call": 1, "kind=blind": 0, "field_id=" + str(bed.FieldID): 2, "bed_id=99": 0,
		"from=2026-11-14T18:00:00Z": 2, "from=2026-11-14T18:00:01Z": 0, "to=2026-11-14T18:00:00Z": 0, "limit=1": 1,
	} {
		assert.Len(t, read[List[Notice]](w.do("GET", "/v1/notices?"+query, "").is(200)).Items, want, query)
	}
	page := read[List[Notice]](w.do("GET", "/v1/notices?limit=1&kind=harvest-before&from=2026-11-14T12:00:00-06:00", "").is(200))
	assert.Len(t, page.Items, 1)
	assert.JSONEq(t, `{"kind":"harvest-before","bed":"B4"}`, string(read[Notice](w.do("GET", "/v1/notices/"+str(first), "").is(200)).Facts))

	path := "/v1/notices/" + str(first) + "/answers"
	w.do("POST", path, `{"answer":"maybe"}`).refused(422, "answer", "leave_it")
	room := read[Room](w.do("POST", "/v1/rooms", `{"name":"Cellar","kind":"cellar","temperature_c":4}`).is(201))
	a := read[Answer](w.do("POST", path, `{"answer":"harvested","harvested_kg":30,"room_id":`+str(room.ID)+`}`).is(201))
	assert.Equal(t, unit.Some(50.0), a.StandingKg)
	assert.Equal(t, 30.0, a.Lot.Kg)
	again := read[Answer](w.do("POST", path, `{"answer":"harvested","harvested_kg":30,"room_id":`+str(room.ID)+`}`).is(201))
	assert.True(t, again.Repeat)
	assert.Len(t, read[List[Lot]](w.do("GET", "/v1/lots", "").is(200)).Items, 1)
	assert.Len(t, read[List[Answer]](w.do("GET", path, "").is(200)).Items, 1)
	told := read[Notice](w.do("GET", "/v1/notices/"+str(first), "").is(200))
	assert.Equal(t, farm.Harvested, told.Answer)
}

func TestEntriesByNumber(t *testing.T) {
	w := newWorld(t)
	for path, c := range map[string]struct{ make, change, member, want string }{
		"/v1/fields":     {`{"name":"South","latitude":46,"longitude":-92,"soil":"sandy_loam","low_spot_k":1.5,"elevation_m":300}`, `{"elevation_m":null,"soil":"clay"}`, "soil", "clay"},
		"/v1/recipients": {`{"name":"A","email":"a@example.org","phone":"+1 207 555 0123","quiet_from":"21:00","quiet_to":"06:00"}`, `{"phone":null}`, "email", "a@example.org"},
		"/v1/rooms":      {`{"name":"Cellar","kind":"cellar","temperature_c":3.9,"humidity":0.95,"capacity_kg":800}`, `{"capacity_kg":null,"kind":"fridge"}`, "kind", "fridge"},
	} {
		got := w.do("POST", path, c.make).is(201)
		at := got.header.Get("Location")
		assert.Regexp(t, "^"+path+`/\d+$`, at)
		tag := got.header.Get("ETag")
		assert.Equal(t, tag, w.do("GET", at, "").is(200).header.Get("ETag"), path)
		w.do("PATCH", at, c.change, headers{"If-Match": tag, "Content-Type": "application/merge-patch+json"}).is(200)
		entry := read[map[string]any](w.do("GET", at, "").is(200))
		assert.Equal(t, c.want, entry[c.member], path)
		assert.NotContains(t, entry, "elevation_m")
		assert.NotContains(t, entry, "capacity_kg")
		assert.NotContains(t, entry, "phone")
		assert.Len(t, read[List[any]](w.do("GET", path, "").is(200)).Items, 1)
		w.do("DELETE", at, "").is(204)
		w.do("DELETE", at, "").is(204)
		assert.Empty(t, read[List[any]](w.do("GET", path, "").is(200)).Items)
		assert.Contains(t, read[map[string]any](w.do("GET", at, "").is(200)), "removed_at")
		w.do("PATCH", at, `{}`).refused(409, "", "removed")
	}
}

func TestLots(t *testing.T) {
	w := newWorld(t)
	room := read[Room](w.do("POST", "/v1/rooms", `{"name":"Cellar","kind":"cellar","temperature_c":3.9}`).is(201))
	at := w.do("POST", "/v1/lots", `{"room_id":`+str(room.ID)+`,"crop":"onion","kg":100,"harvested_at":"2026-10-01T12:00:00Z","container":"crate"}`).is(201).header.Get("Location")
	got := read[Lot](w.do("PATCH", at, `{"kg":60,"cured_at":"2026-10-15T12:00:00Z"}`).is(200))
	assert.Equal(t, 60.0, got.Kg)
	assert.True(t, got.CuredAt.Known())
	w.do("DELETE", "/v1/rooms/"+str(room.ID), "").refused(409, "", "still kept in this room (1)")
	w.do("PATCH", at, `{"kg":0}`).is(200)
	assert.Empty(t, read[List[Lot]](w.do("GET", "/v1/lots", "").is(200)).Items)
	back := read[Lot](w.do("PATCH", at, `{"kg":5,"ended_at":null}`).is(200))
	assert.False(t, back.EndedAt.Known())
	w.do("DELETE", at, "").is(204)
}

func TestATestMessageIsQueued(t *testing.T) {
	w := newWorld(t)
	at := w.do("POST", "/v1/recipients", `{"name":"A","email":"a@example.org","phone":"+12075550123"}`).is(201).header.Get("Location")
	key := headers{"Idempotency-Key": "t"}
	first := w.do("POST", at+"/test", "", key).is(202)
	sent := read[TestSent](first)
	require.Len(t, sent.Messages, 2)
	assert.Equal(t, first.body, w.do("POST", at+"/test", "", key).is(202).body)
	queued, err := w.store.Messages(t.Context(), w.farmID, store.Page{})
	require.NoError(t, err)
	assert.Len(t, queued, 2)
}

func TestImport(t *testing.T) {
	w := newWorld(t)
	w.field()
	csv := headers{"Content-Type": "text/csv; charset=utf-8"}
	before := w.counts()
	got := w.do("POST", "/v1/import?kind=beds", "name,crop,field\nB1,chard,North\nB2,manna,North\nB3,chard,South\n", csv)
	got.refused(422, "crop", "catalogue").refused(422, "field", "no field called")
	var p Problem
	require.NoError(t, json.Unmarshal(got.body, &p))
	assert.Equal(t, []int{3, 4}, []int{p.Errors[0].Line, p.Errors[1].Line})
	assert.True(t, strings.HasPrefix(p.Detail, "line 3, crop:"), p.Detail)
	w.do("POST", "/v1/import", "\"name", csv).refused(422, "line", "not CSV")
	w.do("POST", "/v1/import", "", csv).is(400)
	w.do("POST", "/v1/import?kind=cows", "name\nx\n", csv).refused(422, "kind", "beds")
	assert.Equal(t, before, w.counts())
	done := read[commands.Imported](w.do("POST", "/v1/import", "name,crop,field\nB1,chard,North\nB2,kale,North\n", csv, headers{"Idempotency-Key": "i"}).is(201))
	assert.Equal(t, 2, done.Count)
	w.do("POST", "/v1/import", "name,crop,field\nB1,chard,North\nB2,kale,North\n", csv, headers{"Idempotency-Key": "i"}).is(201)
	assert.Len(t, read[List[Bed]](w.do("GET", "/v1/beds", "").is(200)).Items, 2)
}

func TestTheCatalogue(t *testing.T) {
	w := newWorld(t)
	all := read[List[Crop]](w.do("GET", "/v1/crops", "").is(200)).Items
	assert.Greater(t, len(all), 40)
	c := read[Crop](w.do("GET", "/v1/crops/Kale", "").is(200))
	assert.Equal(t, "kale-curly", c.Name)
	assert.Less(t, c.Hardened, c.Unhardened)
	assert.NotEmpty(t, c.Figures)
	assert.NotEmpty(t, c.Sources)
}

func TestPlanSupplyAndSkill(t *testing.T) {
	w := newWorld(t)
	w.books.plan = plan.Plan{Result: lifting.Result{SavedValue: 120, Turns: []lifting.Turn{{
		Window: lifting.Window{Span: lifting.Span{Start: noon, End: noon.Add(3 * time.Hour)}, People: 2},
		Lifts:  []lifting.Lift{{BedID: 7, PersonHours: 4, Kg: 50}},
	}}}}
	got := read[map[string]any](w.do("GET", "/v1/plan", "").is(200))
	window := got["windows"].([]any)[0].(map[string]any)
	assert.Equal(t, 2.0, window["people"])
	assert.Equal(t, "2026-11-14T18:00:00Z", window["start"])
	assert.Equal(t, []any{}, got["given_up"])
	assert.Equal(t, "plan of Hill Farm", got["text"])
	assert.Equal(t, false, got["crew_given"])
	w.books.skill = skill.Report{Cases: 3}
	assert.Equal(t, 3.0, read[map[string]any](w.do("GET", "/v1/skill", "").is(200))["cases"])
	w.books.supply.Result = supply.Result{Rows: []supply.Row{{Crop: "carrot", Week: "2026-11-16", WantedKg: 40, ShortKg: 12}}}
	row := read[map[string]any](w.do("GET", "/v1/supply", "").is(200))["rows"].([]any)[0].(map[string]any)
	assert.Equal(t, 12.0, row["short_kg"])
	assert.NotContains(t, row, "enough_likelihood")
	table := w.do("GET", "/v1/supply.csv", "").is(200)
	assert.Equal(t, "text/csv; charset=utf-8", table.header.Get("Content-Type"))
	assert.Contains(t, string(table.body), "2026-11-16,carrot,40.0,")
	w.books.err = &NotYet{"no verdict has been scored yet"}
	w.do("GET", "/v1/skill", "").refused(409, "", "scored")
	w.do("GET", "/v1/plan", "").refused(409, "", "scored")
	w.do("GET", "/v1/supply", "").refused(409, "", "scored")
}

func TestStores(t *testing.T) {
	w := newWorld(t)
	w.books.stores = []plan.Room{{Room: farm.Room{ID: 3, Name: "Cellar", Kind: farm.Cellar, Temperature: 4}, Kg: 60, HeatW: 4,
		Advice: []keeping.Note{{Code: keeping.TooDry, Crop: "carrot", Lots: []int64{8}, Share: unit.Some(0.6)}},
		Lots: []plan.Lot{
			{Lot: farm.Lot{ID: 8, RoomID: 3, Crop: "carrot", Kg: 50}, Cured: true, UseBy: keeping.UseBy{P10: noon, P50: noon.Add(24 * time.Hour), P90: noon.Add(48 * time.Hour), Clock: keeping.Drying}},
			{Lot: farm.Lot{ID: 9, RoomID: 3, Crop: "oca", Kg: 10}, Why: keeping.NoFigures},
		}}}
	got := read[List[map[string]any]](w.do("GET", "/v1/stores", "").is(200)).Items[0]
	assert.Nil(t, got["free_kg"], "no capacity is known")
	advice := got["advice"].([]any)[0].(map[string]any)
	assert.Equal(t, "note too-dry", advice["text"])
	lots := got["lots"].([]any)
	by := lots[0].(map[string]any)["use_by"].(map[string]any)
	assert.Equal(t, "2026-11-15T18:00:00Z", by["p50"])
	assert.Equal(t, "drying", by["because"])
	assert.Nil(t, lots[1].(map[string]any)["use_by"], "unknown is null, not a date")
	assert.Equal(t, "note no-figures", lots[1].(map[string]any)["unknown"])
}

func TestSeason(t *testing.T) {
	w := newWorld(t)
	empty := read[Season](w.do("GET", "/v1/season", "").is(200))
	assert.False(t, empty.MadeAt.Known())
	assert.Equal(t, []string{}, empty.Crops)
	w.books.season = plan.Season{Made: noon, File: "hill.csv", Crops: []string{"chard"}, From: 1990, To: 2020}
	csv := headers{"Content-Type": "text/csv", "Idempotency-Key": "s1"}
	made := read[Season](w.do("POST", "/v1/season?name=hill.csv", "date,tmin_c\n", csv).is(201))
	assert.Equal(t, "hill.csv: date,tmin_c\n", w.books.looked)
	assert.Equal(t, 1990, made.First)
	kept, err := plan.Reader{Books: w.store.Reader, Catalogue: w.commands.Catalogue, Now: w.commands.Now}.Season(t.Context(), w.farmID)
	require.NoError(t, err)
	assert.Equal(t, "hill.csv", kept.File, "it is written down")
	w.do("POST", "/v1/season", "x", headers{"Content-Type": "application/zip"}).refused(415, "", "text/csv")
	for _, c := range []struct {
		err    error
		status int
		says   string
	}{
		{plan.ErrNoCrops, 409, "no beds"}, {&plan.BadHistory{Why: phrase.Of("history.short", "file", "h.csv")}, 422, "h.csv: no winter"},
		{store.ErrNotFound, 404, "no such"}, {context.DeadlineExceeded, 503, "fewer years"},
	} {
		w.books.err = c.err
		reply := w.do("POST", "/v1/season", "x", headers{"Content-Type": "text/csv"}).is(c.status)
		assert.Contains(t, string(reply.body), c.says)
	}
}
