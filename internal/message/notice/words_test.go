package notice_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/gsm7"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/unit"
)

var (
	book  = phrase.MustLoad()
	links = notice.Links{Answer: "https://farm.example.org/a/7f3k2m9q", Unsubscribe: "https://farm.example.org/u/7f3k2m9q", Replies: true}
	read  = on(16, 19)
)

// readers are every language in every units.
func readers() []phrase.Speaker {
	var out []phrase.Speaker
	for _, language := range book.Languages() {
		for _, units := range []unit.System{unit.US, unit.Metric} {
			out = append(out, phrase.Speaker{Book: book, Language: language, Units: units, Zone: chicago})
		}
	}
	return out
}

// full puts into a verdict all that a judge gives.
func full(v farm.Verdict) *farm.Verdict {
	v = seen(v, on(16, 12))
	if v.Organ == "" {
		v.Organ = crop.Leaf
	}
	v.AsOf, v.Members, v.Cover = read, 51, "none"
	v.AirLow, v.AirLowP10, v.TissueLow, v.TissueLowP10 = c(-9.4), c(-13), c(-10.8), c(-14.2)
	v.Tolerance, v.ToleranceThen, v.Snow, v.Frozen = c(-9), c(-9.6), unit.Some(4.0), unit.Some(2.5)
	v.Regrowth = unit.Some(0.8)
	v.Forecast.Credit = "NOAA/NWS, public domain"
	return &v
}

func c(v float64) unit.Maybe[unit.Celsius] { return unit.Some(unit.Celsius(v)) }

// warmer is a verdict whose median low lies above what the crop stands.
func warmer(v farm.Verdict) farm.Verdict {
	v.AirLow, v.TissueLow = c(1), c(-0.4)
	return v
}

func caused(v farm.Verdict, cause farm.Cause, organ crop.Organ) farm.Verdict {
	v.Cause, v.Organ = cause, organ
	return v
}

func about(kind notice.Kind, v *farm.Verdict) notice.Facts {
	return notice.Facts{Kind: kind, Farm: "Hill Farm", Field: "Low field", Bed: "B12", BedID: 12, Crop: "chard",
		Titles: map[string]string{"en": "chard", "es": "acelga"}, Zone: "America/Chicago", Night: "2025-11-18", Verdict: v}
}

// situations are everything that may be told, with what a reader must find in it.
type situation struct {
	name  string
	facts notice.Facts
	by    unit.Maybe[time.Time] // the deadline that must be said
}

func situations() []situation {
	before := func(f notice.Facts, t time.Time) notice.Facts { f.Before = unit.Some(t); return f }
	helped := full(harvest(18, 0, 0.4))
	helped.Helps = []farm.Help{{Cover: "low_tunnel_fabric", Likelihood: 0.01, Holds: true}}
	twice := full(tooLate(18, 0.4))
	twice.Helps = []farm.Help{{Cover: "row_cover_heavy", Likelihood: 0.25}, {MulchCm: 20, Likelihood: 0.3}}
	warned := about(notice.HarvestBefore, full(harvest(18, 0, 0.4)))
	warned.Alerts = []notice.Alert{{Event: "Freeze Warning", Sender: "NWS Duluth", Ends: unit.Some(on(19, 9))}, {Event: "Wind Advisory", Sender: "NWS Duluth"}}
	guess := full(harvest(18, 0, 0.4))
	guess.DefaultStart, guess.HistoryHours = true, 30
	passed := about(notice.StandDown, full(holds(0.15)))
	passed.Passed = true
	lost := full(lostIn(17))
	lost.AirLow = c(-13.3)
	bare := harvest(18, 0, 0.4)
	bare.Forecast = farm.Basis{}
	plain := full(holds(0.01))
	plain.AirLow = unit.None[unit.Celsius]()
	late := unit.None[time.Time]()
	by := unit.Some(on(18, 16))
	return []situation{
		{"harvest before", about(notice.HarvestBefore, full(harvest(18, 0, 0.4))), by},
		{"though the median would spare it", about(notice.HarvestBefore, warmed()), by},
		{"with what would help", about(notice.HarvestBefore, helped), by},
		{"with warnings in force", warned, by},
		{"with little history", about(notice.HarvestBefore, guess), by},
		{"a crown", about(notice.HarvestBefore, full(caused(harvest(18, 0, 0.5), farm.CrownFreeze, crop.Crown))), by},
		{"a shoulder", about(notice.HarvestBefore, full(caused(harvest(18, 0, 0.5), farm.ShoulderFreeze, crop.Root))), by},
		{"by chilling", about(notice.HarvestBefore, full(caused(harvest(18, 0, 0.5), farm.Chilling, crop.Fruit))), by},
		{"ground that shuts", about(notice.HarvestBefore, full(caused(harvest(18, 0, 0.5), farm.GroundFrozen, crop.Root))), by},
		{"too late", about(notice.HarvestBefore, full(tooLate(18, 0.4))), late},
		{"too late, with what would help", about(notice.HarvestBefore, twice), late},
		{"too late, in ground that shut", about(notice.HarvestBefore, full(caused(tooLate(18, 0.7), farm.GroundFrozen, crop.Root))), late},
		{"moved earlier", before(about(notice.Moved, full(harvest(18, 0, 0.6))), on(20, 16)), by},
		{"moved later", before(about(notice.Moved, full(harvest(18, 0, 0.3))), on(16, 16)), by},
		{"moved to too late", before(about(notice.Moved, full(tooLate(17, 0.9))), on(18, 16)), late},
		{"a window opened", about(notice.Moved, full(harvest(18, 0, 0.4))), by},
		{"last call", before(about(notice.LastCall, full(harvest(18, 0, 0.4))), on(18, 16)), by},
		{"last call, eased", before(about(notice.LastCall, full(holds(0.15))), on(18, 16)), by},
		{"last call, a later deadline in sight", before(about(notice.LastCall, full(harvest(20, 0, 0.3))), on(18, 16)), by},
		{"stand down", before(about(notice.StandDown, full(holds(0.05))), on(18, 16)), late},
		{"stand down, told too late before", about(notice.StandDown, full(holds(0.05))), late},
		{"stand down, the night has been", passed, late},
		{"stand down, no night to name", before(about(notice.StandDown, plain), on(18, 16)), late},
		{"inspect", about(notice.Inspect, full(holds(0.1))), late},
		{"inspect, lost by the model", about(notice.Inspect, lost), late},
		{"inspect, blind by now", about(notice.Inspect, &farm.Verdict{State: farm.Unknown, Missing: []farm.Gap{{What: farm.GapForecast}}}), late},
		{"inspect, the next in sight", about(notice.Inspect, full(harvest(20, 0, 0.4))), late},
		{"without a verdict", about(notice.Inspect, nil), late},
		{"blind, old", sight(notice.Blind, "old"), late},
		{"blind, holes", sight(notice.Blind, "holes"), late},
		{"blind from the start", notice.Facts{Kind: notice.Blind, Farm: "Hill Farm", Field: "Low field", Sight: &notice.Sight{Reason: "none", Since: on(16, 6)}}, late},
		{"sight again", sight(notice.SightAgain, ""), late},
		{"use by", lot("ageing"), late}, {"use by, dry", lot("water"), late}, {"use by, ripening", lot("ripening"), late},
		{"use by, curing", lot("curing"), late}, {"use by, frozen", lot("frozen"), late}, {"use by, thawed", lot("thawed"), late},
		{"use by, freezing", lot("freezing"), late}, {"cured", lot(notice.Cured), late},
		{"room full", notice.Facts{Kind: notice.RoomFull, Farm: "Hill Farm", Room: &notice.RoomFacts{Name: "Cellar", Kg: 812, CapacityKg: 800}}, late},
		{"undelivered", notice.Facts{Kind: notice.Undelivered, Farm: "Hill Farm", Unreached: &notice.Unreached{Name: "Ann", Channel: "sms", Error: "number unknown"}}, late},
		{"nobody hears", notice.Facts{Kind: notice.Undelivered, Farm: "Hill Farm", Unreached: &notice.Unreached{Name: "Ann", Channel: "sms", Alone: true}}, late},
		{"still watching", watching(on(16, 12)), late},
		{"still watching, blind", notice.Facts{Kind: notice.StillWatching, Farm: "Hill Farm", Watching: &notice.Watching{Beds: 14}}, late},
	}
}

func warmed() *farm.Verdict {
	v := full(harvest(18, 0, 0.3))
	*v = warmer(*v)
	return v
}

func sight(kind notice.Kind, reason string) notice.Facts {
	return notice.Facts{Kind: kind, Farm: "Hill Farm", Field: "Low field", Night: "2025-11-16", Sight: &notice.Sight{
		Reason: farm.Blindness(reason), Since: on(16, 6), Issued: unit.Some(on(15, 5)), Source: "metno", Trouble: []notice.Trouble{{Source: "metno", Kind: "unavailable", Says: "503 Service Unavailable"},
			{Source: "nws", Kind: "unusable", Layers: []farm.Gap{{What: farm.GapRefused, Name: "temperature", Why: "unit", Says: "furlong"}}}}}}
}

func lot(clock string) notice.Facts {
	return notice.Facts{Kind: notice.UseBy, Farm: "Hill Farm", Crop: "carrot", Titles: map[string]string{"en": "carrot", "es": "zanahoria"},
		Lot: &notice.LotFacts{Kg: 120, Room: "Cellar", UseBy: on(28, 12), Early: on(20, 12), Clock: clock}}
}

func watching(issued time.Time) notice.Facts {
	return notice.Facts{Kind: notice.StillWatching, Farm: "Hill Farm", Watching: &notice.Watching{
		Beds: 14, Open: 2, Issued: unit.Some(issued), Next: "B12", NextAt: unit.Some(on(18, 16))}}
}

// each composes every situation for every reader.
func each(t *testing.T, check func(t *testing.T, s phrase.Speaker, x situation, l notice.Letter)) {
	for _, x := range situations() {
		for _, s := range readers() {
			l, err := notice.Compose(s, []notice.Facts{x.facts}, links, read, nil)
			require.NoError(t, err)
			t.Run(fmt.Sprintf("%s/%s/%s", x.name, s.Language, s.Units), func(t *testing.T) { check(t, s, x, l) })
		}
	}
}

var (
	unfilled  = regexp.MustCompile(`\{[a-z_]+\}|\[[a-z_]+\.[a-z_-]*\]|%!|<nil>|0001`)
	untidy    = regexp.MustCompile(`  |\.\.| ,| \.|\(\)|: *$|: \.`)
	clockTime = regexp.MustCompile(`\d{1,2}:\d{2}( [ap]m)?( [A-Z]{3,4})?`)
	fahren    = regexp.MustCompile(`\d ?°?F\b`)
	celsius   = regexp.MustCompile(`\d ?°?C\b`)
	number    = regexp.MustCompile(`-?\d+(\.\d+)?`)
)

func TestNoMessageHasAGap(t *testing.T) {
	each(t, func(t *testing.T, s phrase.Speaker, x situation, l notice.Letter) {
		for part, text := range map[string]string{"subject": l.Subject, "text": l.Text, "html": l.HTML, "sms": l.SMS} {
			assert.Empty(t, unfilled.FindString(text), "%s: %s", part, text)
			if part != "html" {
				for _, line := range strings.Split(text, "\n") {
					assert.Empty(t, untidy.FindString(line), "%s: %q", part, line)
				}
			}
		}
		assert.NotEmpty(t, l.Subject)
		assert.NotContains(t, l.Subject, "\n")
	})
}

// A text message is of the 7-bit alphabet, two segments at most, and says bed,
// crop and deadline with weekday, local time and zone in its first 100 characters.
func TestTextMessages(t *testing.T) {
	each(t, func(t *testing.T, s phrase.Speaker, x situation, l notice.Letter) {
		assert.True(t, gsm7.Encodable(l.SMS), l.SMS)
		assert.LessOrEqual(t, gsm7.Segments(l.SMS), 2, l.SMS)
		assert.NotContains(t, l.SMS, "°")
		head := []rune(l.SMS)
		head = head[:min(100, len(head))]
		if x.facts.BedID != 0 {
			assert.Contains(t, string(head), x.facts.Bed)
			assert.Contains(t, string(head), notice.CropName(s, x.facts))
		}
		if by, ok := x.by.Get(); ok {
			assert.Contains(t, string(head), gsm7.Plain(s.When(by)))
			assert.Contains(t, l.SMS, links.Answer, "the link to answer")
		}
	})
}

// Times carry their zone, temperatures the reader's unit and no other.
func TestNothingWithoutUnitOrZone(t *testing.T) {
	each(t, func(t *testing.T, s phrase.Speaker, x situation, l notice.Letter) {
		own, other := fahren, celsius
		if s.Units == unit.Metric {
			own, other = celsius, fahren
		}
		for part, text := range map[string]string{"subject": l.Subject, "text": l.Text, "sms": l.SMS} {
			assert.Empty(t, other.FindString(text), "%s: %s", part, text)
			for _, at := range clockTime.FindAllString(text, -1) {
				assert.Regexp(t, `[A-Z]{3}$`, at, "%s: %s", part, text)
				assert.Equal(t, s.Units == unit.US, strings.Contains(at, "m "), at)
			}
		}
		if v := x.facts.Verdict; v != nil && v.State == farm.HarvestBefore && x.facts.Kind != notice.Inspect && v.Cause == farm.LeafFreeze {
			assert.GreaterOrEqual(t, len(own.FindAllString(l.Text, -1)), 4, "low, 1 in 10, tissue, tolerance: %s", l.Text)
		}
	})
}

// A mail about a deadline has all that the contract asks for.
func TestAMailIsEnoughToActOn(t *testing.T) {
	each(t, func(t *testing.T, s phrase.Speaker, x situation, l notice.Letter) {
		v := x.facts.Verdict
		by, ok := x.by.Get()
		if !ok || v == nil {
			return
		}
		assert.Equal(t, x.by, notice.Deadline(x.facts))
		assert.Contains(t, l.Subject, s.When(by))
		assert.Contains(t, l.Subject, x.facts.Bed)
		assert.Contains(t, l.Text, s.When(by))
		assert.Contains(t, l.Text, notice.ReasonText(s, *v))
		p, _ := v.Likelihood.Get()
		assert.Contains(t, l.Text, s.Chance(p))
		for _, h := range v.Helps {
			assert.Contains(t, l.Text, notice.HelpName(s, h))
		}
		assert.Contains(t, l.Text, s.Ago(7*time.Hour), "how old the forecast is")
		assert.Contains(t, l.Text, v.Forecast.Credit)
		for part, text := range map[string]string{"text": l.Text, "html": l.HTML} {
			assert.Contains(t, text, links.Answer, part)
			assert.Contains(t, text, links.Unsubscribe, part)
		}
		for _, a := range x.facts.Alerts {
			assert.Contains(t, l.Text, a.Event)
		}
	})
}

// The window that a danger by day cuts short is listed as far as it reaches, and
// of many those nearest the deadline.
func TestTheHoursListedAreThoseBeforeTheDeadline(t *testing.T) {
	s := readers()[0]
	v := full(harvest(18, 0, 0.4))
	v.HarvestBefore = unit.Some(on(18, 11))
	text := strings.Join(notice.Words(s, about(notice.HarvestBefore, v), read).Body, "\n")
	assert.Contains(t, text, "Tue 18 Nov 8:00 am CST – 11:00 am CST")
	assert.Contains(t, text, "Sat 15 Nov")
	assert.NotContains(t, text, "Fri 14 Nov 8:00", "four are enough")
	assert.NotContains(t, text, "4:00 pm CST.", "none after the deadline")
	v.Windows = []farm.Window{{Start: on(18, 11), End: on(18, 16)}}
	body := notice.Words(s, about(notice.HarvestBefore, v), read).Body
	v.Windows = nil
	assert.Equal(t, notice.Words(s, about(notice.HarvestBefore, v), read).Body, body, "one that opens with the deadline is none")
	assert.NotContains(t, strings.Join(body, "\n"), "Hours it can be harvested")
}

// What carries a bed through is said otherwise than what only makes it likelier.
func TestAHelpThatHoldsIsSaidSo(t *testing.T) {
	for _, s := range readers() {
		for holds, key := range map[bool]string{true: "help.cover_holds", false: "help.cover"} {
			v := full(harvest(18, 0, 0.4))
			v.Helps = []farm.Help{{Cover: "low_tunnel_fabric", Likelihood: 0.3, Holds: holds}}
			want := s.Say(key, phrase.Args{"cover": s.Say("cover.low_tunnel_fabric", nil), "chance": s.Chance(0.3)})
			assert.Contains(t, strings.Join(notice.Words(s, about(notice.HarvestBefore, v), read).Body, " "), want)
		}
	}
}

// What is said must make sense when the most likely night would spare the bed.
func TestTheReasonSaysWhyAMildMedianIsNoComfort(t *testing.T) {
	for _, s := range readers() {
		mild, hard := notice.ReasonText(s, *warmed()), notice.ReasonText(s, *full(harvest(18, 0, 0.9)))
		assert.Contains(t, mild, s.Say("reason.likely_stands", nil))
		assert.NotContains(t, hard, s.Say("reason.likely_stands", nil))
		assert.Contains(t, mild, s.Temperature(-14.2), "the cold one of ten is what counts")
	}
}

// Names may be as long as the commands lets them be (80 characters).
func TestLongNamesLeaveRoomForTheDeadline(t *testing.T) {
	f := about(notice.LastCall, full(harvest(18, 0, 0.4)))
	f.Bed = "Lower terrace by the old pear tree, second strip from the hedge, north end, bed 4"[:80]
	f.Variety = "Early purple sprouting of the neighbour's own selection"
	f.Titles = map[string]string{"en": "Brussels sprouts, tall late kind", "es": "coles de Bruselas, altas y tardías"}
	for _, s := range readers() {
		l, err := notice.Compose(s, []notice.Facts{f}, links, read, nil)
		require.NoError(t, err)
		head := string([]rune(l.SMS)[:100])
		assert.Contains(t, head, gsm7.Plain(s.When(on(18, 16))), l.SMS)
		assert.Contains(t, head, "Lower terra")
		assert.Contains(t, head, string([]rune(gsm7.Plain(notice.CropName(s, notice.Facts{Titles: f.Titles})))[:10]))
		assert.Contains(t, l.SMS, links.Answer)
		assert.LessOrEqual(t, gsm7.Segments(l.SMS), 2)
		assert.Contains(t, l.Text, f.Variety, "a mail has room for all of it")
	}
}

func TestEveryKindIsSaid(t *testing.T) {
	said := map[string]bool{}
	for _, x := range situations() {
		said[x.facts.Kind] = true
	}
	for _, k := range notice.Kinds() {
		assert.True(t, said[k], k)
	}
	assert.Len(t, said, len(notice.Kinds()))
}

// A sentence that is the same in two languages was not translated.
func TestSpanishIsNotEnglish(t *testing.T) {
	es, en := readers()[2], readers()[0]
	require.Equal(t, []string{"es", "en"}, []string{es.Language, en.Language})
	for _, x := range situations() {
		a, b := notice.Words(en, x.facts, read), notice.Words(es, x.facts, read)
		require.Len(t, b.Body, len(a.Body), x.name)
		assert.NotEqual(t, a.Subject, b.Subject, x.name)
		for i := range a.Body {
			if number.ReplaceAllString(a.Body[i], "") != a.Body[i] || len(a.Body[i]) > 20 {
				assert.NotEqual(t, a.Body[i], b.Body[i], x.name)
			}
		}
	}
}

func TestTestMessages(t *testing.T) {
	for _, s := range readers() {
		l, err := notice.ComposeTest(s, "Hill Farm", "Ann")
		require.NoError(t, err)
		for _, text := range []string{l.Subject, l.Text, l.HTML, l.SMS} {
			assert.Empty(t, unfilled.FindString(text), text)
		}
		assert.Contains(t, l.Text, "Hill Farm")
		assert.Equal(t, 1, gsm7.Segments(l.SMS))
	}
}
