package calendar

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"
)

// refresh is how often readers are asked to come again (RFC 7986, 5.7; and the
// older X-PUBLISHED-TTL that some still read).
const refresh = "PT1H"

// Head is what stands above the entries.
type Head struct {
	Name, About, Language string
}

// Write gives the calendar as RFC 5545 wants it: CRLF, lines of at most 75
// octets, all instants in UTC. The same entries give the same bytes.
func Write(h Head, events []Event) []byte {
	cal := ics.NewCalendar()
	cal.SetProductId("-//winterstand//harvest before//" + strings.ToUpper(h.Language))
	cal.SetMethod(ics.MethodPublish)
	cal.SetCalscale("GREGORIAN")
	cal.SetName(oneLine(h.Name)) // X-WR-CALNAME too
	if h.About != "" {
		cal.SetXWRCalDesc(oneLine(h.About))
	}
	cal.SetRefreshInterval(refresh)
	cal.SetXPublishedTTL(refresh)
	for _, e := range events {
		cal.AddVEvent(e.vevent())
	}
	return []byte(cal.Serialize(ics.WithNewLineWindows))
}

func (e Event) vevent() *ics.VEvent {
	v := ics.NewEvent(e.UID)
	// A time that only changes with the entry: who asks twice gets the same bytes.
	v.SetDtStampTime(e.Modified)
	v.SetCreatedTime(e.Created)
	v.SetModifiedAt(e.Modified)
	v.SetSequence(e.Sequence)
	if e.Days {
		v.SetAllDayStartAt(e.Start)
		v.SetAllDayEndAt(e.End)
	} else {
		v.SetStartAt(e.Start)
		v.SetEndAt(e.End)
	}
	v.SetSummary(oneLine(e.Summary))
	v.SetDescription(clean(strings.Join(e.Description, "\n\n")))
	if e.Location != "" {
		v.SetLocation(oneLine(e.Location))
	}
	if e.Link != "" {
		v.SetURL(e.Link)
	}
	v.SetTimeTransparency(ics.TransparencyTransparent)
	v.SetStatus(ics.ObjectStatusConfirmed)
	if e.Cancelled {
		v.SetStatus(ics.ObjectStatusCancelled)
	}
	for _, before := range e.Alarms {
		alarm := v.AddAlarm()
		alarm.SetAction(ics.ActionDisplay)
		alarm.SetDescription(oneLine(e.Summary))
		alarm.SetTrigger(trigger(before))
	}
	return v
}

// trigger is a duration before the start, in whole minutes.
func trigger(before time.Duration) string {
	hours, minutes := int(before.Hours()), int(before.Minutes())%60
	if minutes == 0 {
		return fmt.Sprintf("-PT%dH", hours)
	}
	return fmt.Sprintf("-PT%dH%dM", hours, minutes)
}

// clean keeps of the control characters only line breaks: RFC 5545 allows no
// others in a text.
func clean(text string) string {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n").Replace(text)
	return strings.Map(func(r rune) rune {
		if r != '\n' && unicode.IsControl(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "?"))
}

func oneLine(text string) string {
	words := strings.FieldsFunc(clean(text), func(r rune) bool { return r == '\n' })
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return strings.TrimSpace(w) == "" }), " ")
}
