package page

import (
	"bytes"
	"fmt"
	"math"
	"mime/multipart"
	"net/http"
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

func (w *world) stored(kind string, celsius, capacity float64) farm.Room {
	w.Helper()
	r, err := w.commands.AddRoom(w.ctx(), w.farmID, commands.RoomInput{Name: commands.Set("The " + kind), Kind: commands.Set(kind), Temperature: commands.Set(celsius),
		Humidity: commands.Set(0.95), CapacityKg: commands.Set(capacity)})
	require.NoError(w, err)
	return r
}

func (w *world) lot(room farm.Room, crop, container string, kg float64, days int) farm.Lot {
	w.Helper()
	l, err := w.commands.AddLot(w.ctx(), w.farmID, commands.LotInput{RoomID: commands.Set(room.ID), Crop: commands.Set(crop), Kg: commands.Set(kg), Container: commands.Set(container),
		HarvestedAt: commands.Set(noon.AddDate(0, 0, -days))})
	require.NoError(w, err)
	return l
}

func TestThePlanSaysWhatToLiftAndWhatIsGivenUp(t *testing.T) {
	w := newWorld(t)
	w.stored(farm.ColdStore, 2, 30)
	f := w.field("North field")
	bed := w.bed(f, "B1", "carrot", 50)
	by := noon.Add(26 * time.Hour)
	w.judged(map[int64]farm.Verdict{bed.ID: {State: farm.HarvestBefore, AsOf: noon, HarvestBefore: unit.Some(by), Likelihood: unit.Some(0.6), SoldLeft: 1,
		LossShare: 0.2, Windows: []farm.Window{{Start: noon, End: noon.Add(4 * time.Hour)}}, Forecast: farm.Basis{Issued: noon}}})
	page := w.grower().get("/plan").is(200)
	page.says("B1").says("carrot").says("66 lb").says("44 lb").says("There is no room for it in a store that suits.")
	page.says("No crew hours are entered").says("One more tote (44 lb) of room in The cold_store would save")
}

func TestStoresShowDaysLeftAndWarnings(t *testing.T) {
	w := newWorld(t)
	cold := w.stored(farm.ColdStore, 2, 100)
	lot := w.lot(cold, "carrot", "tote", 60, 30)
	w.lot(cold, "onion", "tote", 36, 5)
	page := w.grower().get("/stores").is(200)
	page.says("carrot").says("132 lb").says("days").says("The room is nearly full (96 %).").says("Bulb onion: cure it first")
	assert.Contains(t, page.body, fmt.Sprintf("/lots/%d/change", lot.ID))
	assert.Less(t, strings.Index(page.body, "onion 79 lb"), strings.Index(page.body, "carrot 132 lb"), "what ends first stands first")
}

func TestSupplyNamesTheSpringGapAndGivesATable(t *testing.T) {
	w := newWorld(t)
	w.lot(w.stored(farm.ColdStore, 2, 1000), "carrot", "tote", 60, 10)
	w.set(commands.FarmInput{Wanted: commands.Set([]farm.Want{{Crop: "carrot", KgPerWeek: 10, From: "2026-11-01", To: "2027-06-30"}})})
	g := w.grower()
	page := g.get("/supply").is(200)
	page.says("More likely than not short from the week of").says("The spring gap").says("Mon 1 Mar to Wed 30 Jun").says("More likely than not short in it: carrot.")
	table := g.get("/supply.csv").is(200)
	assert.Contains(t, table.body, "week_start,crop,wanted_kg")
	assert.Contains(t, table.body, "2026-11-15,carrot,1.4,", "a Sunday: one day of the week is left")
}

func TestSkillShowsTheScore(t *testing.T) {
	w := newWorld(t)
	bed := w.bed(w.field("North field"), "B1", "chard", 50)
	w.grower().get("/skill").is(200).says("No night has been scored yet")
	require.NoError(t, w.store.Write(w.ctx(), func(tx store.Writer) error {
		if err := tx.AddJudgements(w.ctx(), []store.Judgement{{FarmID: w.farmID, BedID: bed.ID, Crop: "chard", Night: "2026-11-12", LeadDays: 1,
			IssuedAt: noon.AddDate(0, 0, -4), Likelihood: 0.8, CostLoss: 0.2, Acted: true, AirMinC: -12}}); err != nil {
			return err
		}
		return tx.ScoreJudgement(w.ctx(), bed.ID, "2026-11-12", 0.9, -12)
	}))
	w.grower().get("/skill").is(200).says("1 verdicts of nights from Thu 12 Nov to Thu 12 Nov").says("0.04").says("Alarm at 28 °F")
}

// sendHistory posts the form of the page of past winters.
func (b *browser) sendHistory(csrf, name string, file []byte) reply {
	b.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	require.NoError(b, form.WriteField("csrf", csrf))
	if name != "" {
		part, err := form.CreateFormFile("file", name)
		require.NoError(b, err)
		_, err = part.Write(file)
		require.NoError(b, err)
	}
	require.NoError(b, form.Close())
	req, err := http.NewRequest(http.MethodPost, b.server.URL+"/season", &body)
	require.NoError(b, err)
	req.Header.Set("Content-Type", form.FormDataContentType())
	return b.do(req)
}

func TestAHistoryIsPlayedAndShown(t *testing.T) {
	w := newWorld(t)
	w.bed(w.field("North field"), "B1", "tomato", 50)
	var file strings.Builder
	file.WriteString("date,tmin_c,tmax_c\n")
	for d := time.Date(2018, 7, 1, 0, 0, 0, 0, time.UTC); d.Year() < 2025; d = d.AddDate(0, 0, 1) {
		mean := 6 - 16*math.Cos(2*math.Pi*float64(d.YearDay()-20)/365)
		fmt.Fprintf(&file, "%s,%.1f,%.1f\n", d.Format(time.DateOnly), mean-5, mean+5)
	}
	g := w.grower()
	csrf := g.get("/season").is(200).says("No history has been given yet.").form("/signout").Get("csrf")
	require.NotEmpty(t, csrf)
	for _, c := range []struct {
		what, csrf, name string
		file             string
		status           int
		says             string
	}{
		{"not our form", "x", "h.csv", file.String(), 403, "did not come from a page of ours"},
		{"no file", csrf, "", "", 422, "No file was given."},
		{"empty", csrf, "h.csv", "", 422, "No file was given."},
		{"no weather", csrf, "h.csv", "apples,pears\n1,2\n", 422, "This could not be read: h.csv line 1"},
		{"too short", csrf, "h.csv", "date,tmin_c,tmax_c\n2024-01-01,-3,4\n", 422, "no winter from 1 August to 31 May"},
		{"too large", csrf, "h.csv", strings.Repeat("x", maxHistory+maxForm), 413, "larger than 8 MiB"},
	} {
		g.sendHistory(c.csrf, c.name, []byte(c.file)).is(c.status).says(c.says)
	}
	g.sendHistory(csrf, `C:\weather\hill.csv`, []byte(file.String())).is(303)
	g.get("/season").is(200).says("from hill.csv, for North field: winters 2018/19 to 2023/24").says("tomato").says("0 of 6 stood").says("The supply page counts with these dates")
}
