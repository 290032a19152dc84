package picture

import (
	"strings"
	"time"
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

// English is what a picture says that is given no phrases.
func English() Phrases {
	return Phrases{
		Weekdays: [7]string{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
		Months:   [12]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"},
		Clock:    "15:04", DayMonth: "{d} {m}",
		Air: "air, 8 chances in 10", Tissue: "leaf", Stands: "what it stands", Tenth: "1 chance in 10 of going below", Half: "more likely below than not",
		NightLow: "Night low, air", Work: "When it can be harvested", TooLate: "hollow: too late", Snow: "Snow on the bed",
		Now: "now", Freezing: "freezing", NoData: "no forecast", Night: "Night", AirLow: "Air low", TissueLow: "Lowest", WorkHours: "Can be harvested that day",
		None: "no", Unknown: "unknown", Before: "Harvest before", Lowest: "Lowest air",
	}
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
