package notice_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/farm"
	"winterstand/internal/message/gsm7"
	"winterstand/internal/message/notice"
	"winterstand/internal/message/phrase"
	"winterstand/internal/science/microclimate"
	"winterstand/internal/unit"
)

// beds are n notices whose deadlines come nearer from the first to the last.
func beds(n int, kind notice.Kind) []notice.Facts {
	out := make([]notice.Facts, n)
	for i := range out {
		v := full(harvest(19-i%3, 0, 0.4))
		if kind == notice.StandDown || kind == notice.Inspect {
			v = full(holds(0.03))
		}
		out[i] = about(kind, v)
		out[i].Bed, out[i].BedID = fmt.Sprintf("Bed %02d", i+1), int64(i+1)
		out[i].Before = unit.Some(on(21, 16))
		out[i].Alerts = []notice.Alert{{Event: "Freeze Warning", Sender: "NWS Duluth", Ends: unit.Some(on(19, 9))}}
	}
	return out
}

// One letter about many beds: each bed once, what they share once, the most
// pressing first; a subject and a text that end before the reader tires.
func TestALetterAboutManyBeds(t *testing.T) {
	for _, n := range []int{2, 5, 40} {
		for _, kind := range []notice.Kind{notice.HarvestBefore, notice.Moved, notice.StandDown, notice.Inspect, notice.LastCall} {
			for _, s := range readers() {
				name := fmt.Sprintf("%d %s %s %s", n, kind, s.Language, s.Units)
				facts := beds(n, kind)
				l, err := notice.Compose(s, facts, links, read, nil, "annex line")
				require.NoError(t, err, name)
				for i := range facts {
					assert.Contains(t, l.Text, facts[i].Bed, name)
				}
				for _, once := range []string{"Freeze Warning", "NOAA/NWS, public domain", links.Unsubscribe, "annex line",
					notice.ForecastLine(s, facts[0].Verdict.Forecast, read), s.Say("caution.any", nil)} {
					assert.Equal(t, 1, strings.Count(l.Text, once), "%s: %s", name, once)
				}
				if kind != notice.StandDown { // there is nothing to answer
					assert.Equal(t, 1, strings.Count(l.Text, links.Answer), name)
					assert.Contains(t, l.SMS, links.Answer, "%s: the link to answer", name)
				}
				assert.Less(t, runes(l.Subject), 180, "%s: %s", name, l.Subject)
				assert.Contains(t, l.Subject, fmt.Sprint(n), name)
				assert.Empty(t, unfilled.FindString(l.Subject+l.Text+l.HTML+l.SMS), name)
				assert.LessOrEqual(t, gsm7.Segments(l.SMS), 2, "%s: %s", name, l.SMS)
				assert.True(t, gsm7.Encodable(l.SMS), l.SMS)
				assert.Contains(t, l.SMS, fmt.Sprint(n), name)
				if kind == notice.HarvestBefore {
					assert.Contains(t, l.Subject, s.When(on(17+max(0, 3-n), 16)), "%s: the first deadline", name)
					assert.Contains(t, string([]rune(l.SMS)[:100]), gsm7.Plain(s.When(on(17+max(0, 3-n), 16))), name)
				}
			}
		}
	}
}

func runes(s string) int { return len([]rune(s)) }

// The most pressing comes first, whatever the order it was written in.
func TestTheMostPressingComesFirst(t *testing.T) {
	s := readers()[0]
	stand := about(notice.StandDown, full(holds(0.01)))
	stand.Bed = "Standing"
	late := about(notice.HarvestBefore, full(tooLate(17, 0.9)))
	late.Bed = "Late"
	later := about(notice.HarvestBefore, full(harvest(19, 0, 0.4)))
	later.Bed = "Later"
	soon := about(notice.LastCall, full(harvest(17, 0, 0.4)))
	soon.Bed = "Soon"
	l, err := notice.Compose(s, []notice.Facts{stand, later, soon, late}, links, read, []string{"", "cid-later", "cid-soon", ""})
	require.NoError(t, err)
	last := -1
	for _, bed := range []string{"Late", "Soon", "Later", "Standing"} {
		at := strings.Index(l.Text, bed+" ")
		assert.Greater(t, at, last, "%s in %s", bed, l.Text)
		last = at
	}
	assert.True(t, strings.HasPrefix(l.Subject, "4 notices: Late"), l.Subject)
	assert.True(t, strings.HasPrefix(l.SMS, "4 notices: Late chard"), l.SMS)
	assert.Contains(t, l.SMS, "Soon chard")
	assert.Less(t, strings.Index(l.HTML, "cid:cid-soon"), strings.Index(l.HTML, "cid:cid-later"), "pictures go with their notice")
}

// Names are text, not markup.
func TestNamesAreEscaped(t *testing.T) {
	f := about(notice.HarvestBefore, full(harvest(18, 0, 0.4)))
	f.Bed = `<b onclick="x">B</b>`
	l, err := notice.Compose(readers()[0], []notice.Facts{f}, links, read, nil)
	require.NoError(t, err)
	assert.NotContains(t, l.HTML, "<b onclick")
	assert.Contains(t, l.HTML, "&lt;b")
	assert.Contains(t, l.Text, f.Bed)
}

// Cautions stand where they belong, each once, in the reader's units.
func TestCautions(t *testing.T) {
	us, metric := readers()[0], readers()[1]
	tunnel := full(harvest(18, 0, 0.4))
	tunnel.Helps = []farm.Help{{Cover: "low_tunnel", Likelihood: 0.1, Holds: true}}
	high := full(harvest(18, 0, 0.4))
	high.Cover = "high_tunnel"
	bitter := full(harvest(18, 0, 0.4))
	bitter.AirLow = c(-18)
	tomato := about(notice.HarvestBefore, full(harvest(18, 0, 0.4)))
	tomato.Cautions = []crop.Caution{crop.Canning}
	vine := tomato
	vine.Crop, vine.Titles = "lantern-vine", map[string]string{"en": "lantern vine"}
	for _, x := range []struct {
		name  string
		facts notice.Facts
		keys  []string
	}{
		{"any bed", about(notice.HarvestBefore, full(harvest(18, 0, 0.4))), []string{"any"}},
		{"after a freeze", about(notice.Inspect, full(holds(0.1))), []string{"any", "frozen"}},
		{"a tunnel that would help", about(notice.HarvestBefore, tunnel), []string{"any", "snow_load"}},
		{"a high tunnel", about(notice.HarvestBefore, high), []string{"any", "snow_load", "closed_air"}},
		{"bitter cold", about(notice.HarvestBefore, bitter), []string{"any", "crew"}},
		{"a crop that declares one", tomato, []string{"any", "canning"}},
		{"a crop of another name", vine, []string{"any", "canning"}},
		{"no bed", sight(notice.Blind, "old"), nil},
	} {
		var want []string
		for _, k := range x.keys {
			want = append(want, us.Say("caution."+k, phrase.Args{"crop": notice.CropName(us, x.facts), "load": us.Say("caution.load_us", nil)}))
		}
		assert.ElementsMatch(t, want, notice.Cautions(us, []notice.Facts{x.facts, x.facts}), x.name)
	}
	assert.Contains(t, strings.Join(notice.Cautions(metric, []notice.Facts{about(notice.HarvestBefore, tunnel)}), " "), "1 kg/m2")
}

// Whatever a crop or a cover may declare has its sentence in every language.
func TestEveryCautionIsSaid(t *testing.T) {
	b := phrase.MustLoad()
	for _, c := range crop.Cautions() {
		assert.True(t, b.Has("caution."+string(c)), c)
	}
	for _, c := range microclimate.Cautions() {
		assert.True(t, b.Has("caution."+string(c)), c)
	}
}

// Who cannot reply by text is not told to; a letter without links has none.
func TestOnlyWhatWorksIsOffered(t *testing.T) {
	s := readers()[0]
	f := []notice.Facts{about(notice.HarvestBefore, full(harvest(18, 0, 0.4)))}
	l, err := notice.Compose(s, f, notice.Links{Answer: links.Answer}, read, nil)
	require.NoError(t, err)
	assert.NotContains(t, l.Text+l.SMS, "HARVESTED")
	bare, err := notice.Compose(s, f, notice.Links{}, read, nil)
	require.NoError(t, err)
	assert.NotContains(t, bare.Text+bare.SMS+bare.HTML, "http")
	assert.NotContains(t, bare.HTML, "<a ")
}

// Threads are stable names that a mail header can hold.
func TestThreads(t *testing.T) {
	assert.Equal(t, "bed-12-2025-11-18", notice.Thread("bed:12", "2025-11-18"))
}

// Urgent kinds may break quiet hours; news that can wait may not.
func TestUrgency(t *testing.T) {
	for kind, want := range map[notice.Kind]bool{
		notice.HarvestBefore: true, notice.Moved: true, notice.LastCall: true, notice.Blind: true, notice.Undelivered: true,
		notice.StandDown: false, notice.Inspect: false, notice.SightAgain: false, notice.UseBy: false, notice.RoomFull: false, notice.StillWatching: false,
	} {
		assert.Equal(t, want, notice.Urgent(kind), kind)
	}
}

// Beds for which it is too late have no deadline to name.
func TestALetterAboutBedsForWhichItIsTooLate(t *testing.T) {
	for _, s := range readers() {
		late := beds(3, notice.HarvestBefore)
		for i := range late {
			late[i].Verdict = full(tooLate(18, 0.9))
		}
		mixed := append(beds(1, notice.HarvestBefore), late...)
		for _, facts := range [][]notice.Facts{late, mixed} {
			l, err := notice.Compose(s, facts, links, read, nil)
			require.NoError(t, err)
			assert.Empty(t, unfilled.FindString(l.Subject+l.Text+l.HTML+l.SMS), "%s %s", l.Subject, l.SMS)
			assert.Contains(t, l.Subject, fmt.Sprint(len(facts)))
		}
	}
}
