package page

import (
	"fmt"

	"github.com/go-chi/chi/v5"

	"winterstand/internal/farm"
	"winterstand/internal/service/commands"
)

var settingsScreen = Screen{Path: "/settings", Name: "page.settings", Change: true, Routes: func(s *Site, r chi.Router) {
	form(s, r, "/settings", showSettings, saveSettings)
	form(s, r, "/settings/crew", showCrew, saveCrew)
	form(s, r, "/settings/wanted", showWanted, saveWanted)
	form(s, r, "/settings/calendar", showCalendar, renewCalendar)
}}

func (v *visit) settingsForm() *Sheet {
	f, s := v.farm, v.speaker.Units
	hours := func(name, limit string, h float64) *Box {
		return v.ask(numberBox, name, limit).must().in(inHours()).within("farm." + name).with(inHours().write(h))
	}
	chill := v.ask(numberBox, "wind_chill_limit_c", "wind_chill").must().in(temperatureIn(s)).within("farm.wind_chill_limit_c")
	chill.Value = chill.measure.write(float64(f.WindChillLimit))
	still := v.ask(tickBox, "still_watching", "still_watching")
	if f.StillWatching {
		still.Value = "on"
	}
	sheet := v.sheet("/settings", "save",
		v.ask(textBox, "name", "farm_name").must().with(f.Name),
		v.ask(choiceBox, "units", "units").must().from(v.choices("farm.units", "units", "")).with(string(f.Units)),
		v.ask(choiceBox, "language", "language").must().from(v.languages("")).with(f.Language),
		v.ask(textBox, "time_zone", "time_zone").with(f.TimeZone),
		v.ask(textBox, "currency", "currency").must().with(f.Currency),
		v.head("when_told"),
		hours("notice_lead_h", "notice_lead", f.NoticeLead.Hours()),
		hours("moved_step_h", "moved_step", f.MovedStep.Hours()),
		hours("blind_after_h", "blind_after", f.BlindAfter.Hours()),
		still, v.head("crew"), chill,
	)
	sheet.Version = fmt.Sprint(f.Version)
	sheet.Links = []Link{{Path: "/settings/crew", Name: v.say("page.crew")}, {Path: "/settings/wanted", Name: v.say("page.wanted")}, {Path: "/settings/calendar", Name: v.say("page.calendar")}}
	return sheet
}

func (s *Sheet) farm() commands.FarmInput {
	return commands.FarmInput{Name: s.text("name"), Units: s.text("units"), Language: s.text("language"), TimeZone: s.text("time_zone"),
		Currency: s.text("currency"), NoticeLeadH: s.number("notice_lead_h"), MovedStepH: s.number("moved_step_h"),
		BlindAfterH: s.number("blind_after_h"), WindChillLimit: s.number("wind_chill_limit_c"), StillWatching: s.tick("still_watching")}
}

func showSettings(v *visit) error { return v.show("sheet", v.say("page.settings"), v.settingsForm()) }

func (v *visit) saveFarm(sheet *Sheet, title, to string, read func() commands.FarmInput) error {
	return submit(sheet, title, read, func(in commands.FarmInput) (string, error) {
		_, err := v.Commands.ChangeFarm(v.ctx(), v.farm.ID, sheet.seen(), in)
		return to + "?done=saved", err
	})
}

func saveSettings(v *visit) error {
	sheet := v.settingsForm()
	return v.saveFarm(sheet, v.say("page.settings"), "/settings", sheet.farm)
}

// spareRows are empty rows under a list that may grow.
const spareRows = 3

func (v *visit) crewForm() *Sheet {
	boxes := []*Box{}
	days := []Choice{{"", v.say("form.no_entry")}}
	for _, d := range commands.Choices["shift.day"] {
		days = append(days, Choice{d, v.say("weekday." + d)})
	}
	for i := range len(v.farm.Crew) + spareRows {
		var c farm.Shift
		people := ""
		if i < len(v.farm.Crew) {
			c = v.farm.Crew[i]
			people = plainNumber.write(c.People)
		}
		at := func(m string) string { return fmt.Sprintf("crew[%d].%s", i, m) }
		n := v.ask(numberBox, at("people"), "crew_people").in(plainNumber).within("shift.people").with(people)
		boxes = append(boxes, row(i,
			v.ask(choiceBox, at("day"), "crew_day").from(days).with(c.Day),
			v.ask(clockBox, at("from"), "crew_from").or("right.clock").with(c.From),
			v.ask(clockBox, at("to"), "crew_to").or("right.clock_later").with(c.To), n))
	}
	sheet := v.sheet("/settings/crew", "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(v.farm.Version), "/settings"
	return sheet
}

// rows are how many rows a list on the form has.
func (s *Sheet) rows(list, member string) (n int) {
	for s.box(fmt.Sprintf("%s[%d].%s", list, n, member)) != nil {
		n++
	}
	return n
}

// cell is one box of a row.
func (s *Sheet) cell(list string, i int, member string) *Box {
	return s.box(fmt.Sprintf("%s[%d].%s", list, i, member))
}

// amount of a cell; one that cannot be read is marked.
func (s *Sheet) amount(b *Box) float64 {
	x, ok := b.measure.read(b.Value)
	if !ok {
		b.Wrong = s.v.say("form.number")
	}
	return x
}

func (s *Sheet) crew() commands.FarmInput {
	out := []farm.Shift{}
	for i := range s.rows("crew", "day") {
		if day := s.cell("crew", i, "day").Value; day != "" {
			out = append(out, farm.Shift{Day: day, From: s.cell("crew", i, "from").Value, To: s.cell("crew", i, "to").Value,
				People: s.amount(s.cell("crew", i, "people"))})
		}
	}
	return commands.FarmInput{Crew: commands.Set(out)}
}

func showCrew(v *visit) error { return v.show("sheet", v.say("page.crew"), v.crewForm()) }

func saveCrew(v *visit) error {
	sheet := v.crewForm()
	return v.saveFarm(sheet, v.say("page.crew"), "/settings/crew", sheet.crew)
}

func (v *visit) wantedForm() *Sheet {
	boxes := []*Box{}
	rate := massRateIn(v.speaker.Units, v.say("form.a_week"))
	for i := range len(v.farm.Wanted) + spareRows {
		var w farm.Want
		kg := ""
		if i < len(v.farm.Wanted) {
			w = v.farm.Wanted[i]
			kg = rate.write(w.KgPerWeek)
		}
		at := func(m string) string { return fmt.Sprintf("wanted[%d].%s", i, m) }
		boxes = append(boxes, row(i,
			v.ask(choiceBox, at("crop"), "crop").from(v.crops()).with(w.Crop),
			v.ask(numberBox, at("kg_per_week"), "wanted_mass").in(rate).within("want.kg_per_week").with(kg),
			v.ask(dayBox, at("from"), "wanted_from").or("right.day").with(string(w.From)),
			v.ask(dayBox, at("to"), "wanted_to").or("right.day_later").with(string(w.To))))
	}
	sheet := v.sheet("/settings/wanted", "save", boxes...)
	sheet.Version, sheet.Cancel = fmt.Sprint(v.farm.Version), "/settings"
	return sheet
}

func (s *Sheet) wanted() commands.FarmInput {
	out := []farm.Want{}
	for i := range s.rows("wanted", "crop") {
		if crop := s.cell("wanted", i, "crop").Value; crop != "" {
			out = append(out, farm.Want{Crop: crop, KgPerWeek: s.amount(s.cell("wanted", i, "kg_per_week")),
				From: farm.Day(s.cell("wanted", i, "from").Value), To: farm.Day(s.cell("wanted", i, "to").Value)})
		}
	}
	return commands.FarmInput{Wanted: commands.Set(out)}
}

func showWanted(v *visit) error { return v.show("sheet", v.say("page.wanted"), v.wantedForm()) }

func saveWanted(v *visit) error {
	sheet := v.wantedForm()
	return v.saveFarm(sheet, v.say("page.wanted"), "/settings/wanted", sheet.wanted)
}
