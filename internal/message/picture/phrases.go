package picture

import (
	"strings"
	"time"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

// Phrases are the words of the picture in one language.
type Phrases struct {
	Weekdays  [7]string  // short, Sunday first
	Months    [12]string // short
	Clock     string     // layout of a clock time, as for time.Format
	DayMonth  string     // order of "{d}" and "{m}"
	Air       string     // legend of the band
	Tissue    string     // what the line is: leaf, head, shoulder of the root
	Stands    string     // legend of the floor
	Tenth     string     // legend of the pale fill
	Half      string     // legend of the dark fill
	NightLow  string     // row of numbers
	Work      string     // strip of hours
	TooLate   string     // what a hollow window is
	Snow      string     // row of bars
	Now       string
	Freezing  string
	NoData    string
	Night     string // table heads from here on
	AirLow    string
	TissueLow string
	WorkHours string
	None      string // no workable hours
	Unknown   string
	Before    string // before the deadline in the description
	Lowest    string // before the lowest air in the description
}

// PhrasesFor are the words of a picture for a reader, and the name of the organ
// it draws.
func PhrasesFor(s phrase.Speaker, organ crop.Organ) Phrases {
	say := func(key string) string { return s.Say("picture."+key, nil) }
	p := Phrases{
		Clock: "15:04", DayMonth: "{d} {m}", Tissue: s.Say("organ."+string(organ), nil),
		Air: say("air"), Stands: say("stands"), Tenth: say("tenth"), Half: say("half"), NightLow: say("night_low"), Work: say("work"),
		TooLate: say("too_late"), Snow: say("snow"), Now: say("now"), Freezing: say("freezing"), NoData: say("no_data"), Night: say("night"),
		AirLow: say("air_low"), TissueLow: say("tissue_low"), WorkHours: say("work_hours"), None: say("none"), Unknown: say("unknown"),
		Before: say("before"), Lowest: say("lowest"),
	}
	if s.Units == unit.US {
		p.Clock = "3:04 pm"
	}
	for i, day := range []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"} {
		p.Weekdays[i] = s.Say("day."+day, nil)
	}
	for i, month := range []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"} {
		p.Months[i] = s.Say("month."+month, nil)
	}
	return p
}

func (b Bed) weekday(t time.Time) string { return b.Phrases.Weekdays[int(t.In(b.Zone).Weekday())] }

func (b Bed) clock(t time.Time) string { return t.In(b.Zone).Format(b.Phrases.Clock) }

// date is "Thu 14 Nov".
func (b Bed) date(t time.Time) string {
	l := t.In(b.Zone)
	day := strings.NewReplacer("{d}", l.Format("2"), "{m}", b.Phrases.Months[int(l.Month())-1]).Replace(b.Phrases.DayMonth)
	return b.weekday(t) + " " + day
}

// moment is "Thu 14 Nov 15:00".
func (b Bed) moment(t time.Time) string { return b.date(t) + " " + b.clock(t) }
