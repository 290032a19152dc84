package notice

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"winterstand/internal/message/gsm7"
	"winterstand/internal/message/phrase"
)

// Letter is one message to one reader: one or more notices, grouped.
type Letter struct {
	Subject string
	Text    string
	HTML    string
	SMS     string
}

//go:embed letter.html.tmpl
var letterHTML string

var letterTemplate = template.Must(template.New("letter").Parse(letterHTML))

// Compose writes one message out of several notices, the most pressing first.
// pictures names, by position in facts, the content ID of a drawing ("" none);
// annex is what stands under all of them in a mail, line by line.
func Compose(s phrase.Speaker, facts []Facts, links Links, now time.Time, pictures []string, annex ...string) (Letter, error) {
	order := byUrgency(facts)
	lines := make([]Line, len(order))
	for i, at := range order {
		lines[i] = Words(s, facts[at], now)
	}
	l := Letter{Subject: subject(s, facts, order, lines)}
	end := footer(s, facts, links)
	end.Shared, end.Annex = shared(lines), annex
	l.Text = letterText(lines, end)
	l.SMS = letterSMS(s, facts, order, lines, links)
	var err error
	l.HTML, err = letterAsHTML(s, lines, end, links, pick(pictures, order))
	return l, err
}

func pick(pictures []string, order []int) []string {
	out := make([]string, len(order))
	for i, at := range order {
		if at < len(pictures) {
			out[i] = pictures[at]
		}
	}
	return out
}

// byUrgency orders notices: those with a deadline by that, the rest after.
func byUrgency(facts []Facts) []int {
	order := make([]int, len(facts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return pressing(facts[a]).Compare(pressing(facts[b]))
	})
	return order
}

var farOff = time.Unix(1<<40, 0)

func pressing(f Facts) time.Time {
	if f.Verdict == nil || f.Kind == StandDown || f.Kind == Inspect {
		return farOff
	}
	if by, ok := Deadline(f).Get(); ok {
		return by
	}
	return f.Verdict.AsOf
}

func subject(s phrase.Speaker, facts []Facts, order []int, lines []Line) string {
	if len(lines) == 1 {
		return lines[0].Subject
	}
	first := facts[order[0]]
	if allHarvest(facts) {
		by, ok := first.Verdict.HarvestBefore.Get()
		if ok {
			return s.Say("subject.harvest_before_many", phrase.Args{
				"n": fmt.Sprint(len(lines)), "deadline": s.When(by), "beds": bedNames(s, facts, order)})
		}
	}
	if kind, ok := oneKind(facts); ok {
		if key := manyKey(kind, facts); s.Book.Has(key) {
			return s.Say(key, phrase.Args{"n": fmt.Sprint(len(lines)), "beds": bedNames(s, facts, order)})
		}
	}
	return s.Say("subject.many", phrase.Args{"n": fmt.Sprint(len(lines)), "first": lines[0].Subject})
}

// manyKey is the phrase for several notices of a kind; not every kind has one,
// and what can be said of some beds with a deadline and some without, has none.
func manyKey(kind Kind, facts []Facts) string {
	if kind == HarvestBefore {
		if slices.ContainsFunc(facts, func(f Facts) bool { return variant(f) != "too_late" }) {
			return ""
		}
		return "subject.too_late_many"
	}
	return "subject." + strings.ReplaceAll(kind, "-", "_") + "_many"
}

func oneKind(facts []Facts) (Kind, bool) {
	for _, f := range facts {
		if f.Kind != facts[0].Kind {
			return "", false
		}
	}
	return facts[0].Kind, true
}

func allHarvest(facts []Facts) bool {
	for _, f := range facts {
		if f.Kind != HarvestBefore || f.Verdict == nil || !f.Verdict.HarvestBefore.Known() {
			return false
		}
	}
	return true
}

// namesRoom is how long a list of beds may grow, in characters, in a subject or a text.
const namesRoom = 70

// bedNames are the beds in order, as many as there is room for, and how many more.
func bedNames(s phrase.Speaker, facts []Facts, order []int) string {
	var names string
	for i, at := range order {
		next := names + facts[at].Bed
		if i > 0 {
			next = names + ", " + facts[at].Bed
			if runes(next) > namesRoom {
				return names + " " + s.Say("letter.more", phrase.Args{"n": fmt.Sprint(len(order) - i)})
			}
		}
		names = next
	}
	return names
}

// footer holds what stands once under all notices.
type foot struct {
	Shared                     []string // what the notices rest on, each thing once
	Annex                      []string // what was asked to stand under them
	Answer, Reply, Unsubscribe string
	Cautions                   []string
	Credit                     string
}

func footer(s phrase.Speaker, facts []Facts, links Links) foot {
	f := foot{Cautions: Cautions(s, facts)}
	if links.Answer != "" && answerable(facts) {
		f.Answer = s.Say("body.answer", phrase.Args{"url": links.Answer})
		if links.Replies {
			f.Reply = s.Say("body.reply", nil)
		}
	}
	if links.Unsubscribe != "" {
		f.Unsubscribe = s.Say("body.unsubscribe", phrase.Args{"url": links.Unsubscribe})
	}
	if cs := credits(facts); len(cs) > 0 {
		f.Credit = s.Say("body.credit", phrase.Args{"credit": strings.Join(cs, "; ")})
	}
	return f
}

// shared is what notices say alike: warnings in force, the forecast.
func shared(lines []Line) []string {
	var out []string
	for _, l := range lines {
		for _, p := range l.Body[l.Own:] {
			if !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
	}
	return out
}

func answerable(facts []Facts) bool {
	return slices.ContainsFunc(facts, func(f Facts) bool { return f.BedID != 0 && f.Kind != StandDown })
}

func credits(facts []Facts) []string {
	var cs []string
	for _, f := range facts {
		if f.Verdict != nil && f.Verdict.Forecast.Credit != "" && !slices.Contains(cs, f.Verdict.Forecast.Credit) {
			cs = append(cs, f.Verdict.Forecast.Credit)
		}
	}
	return cs
}

func letterText(lines []Line, end foot) string {
	var b strings.Builder
	for i, l := range lines {
		if i > 0 {
			b.WriteString("\n----\n\n")
		}
		for _, p := range l.Body[:l.Own] {
			b.WriteString(p + "\n\n")
		}
	}
	if len(lines) > 1 && len(end.Shared)+len(end.Annex) > 0 {
		b.WriteString("----\n\n")
	}
	for _, p := range slices.Concat(end.Shared, end.Annex, []string{end.Answer, end.Reply}, end.Cautions) {
		if p != "" {
			b.WriteString(p + "\n\n")
		}
	}
	for _, p := range []string{end.Credit, end.Unsubscribe} {
		if p != "" {
			b.WriteString(p + "\n")
		}
	}
	return b.String()
}

// letterSMS says what one notice says with its reasons, or what several say, the
// most pressing first; the link comes early, the rest as far as two segments reach.
func letterSMS(s phrase.Speaker, facts []Facts, order []int, lines []Line, links Links) string {
	text := lines[0].SMS
	if len(lines) > 1 {
		s.Plain = true
		text = severalSMS(s, facts, order, lines)
	}
	if answerable(facts) {
		text = slices.Concat(text[:1], []string{links.Answer}, text[1:])
		if links.Replies {
			text = append(text, s.Say("sms.reply", nil))
		}
	}
	return gsm7.Fit(text...)
}

func severalSMS(s phrase.Speaker, facts []Facts, order []int, lines []Line) []string {
	if kind, same := oneKind(facts); same && (allHarvest(facts) || s.Book.Has(manyKey(kind, facts))) {
		return []string{subject(s, facts, order, lines) + "."}
	}
	text := []string{s.Say("subject.many", phrase.Args{"n": fmt.Sprint(len(lines)), "first": lines[0].SMS[0]})}
	for _, l := range lines[1:] {
		text = append(text, l.SMS[0])
	}
	return text
}

type letterPage struct {
	Language string
	Lines    []letterLine
	End      foot
	Links    Links
	Button   string
}

type letterLine struct {
	Head    string
	Body    []string
	Picture template.URL
}

func letterAsHTML(s phrase.Speaker, lines []Line, end foot, links Links, pictures []string) (string, error) {
	page := letterPage{Language: s.Language, End: end, Links: links}
	for i, l := range lines {
		item := letterLine{Head: l.Body[0], Body: l.Body[1:l.Own]}
		if pictures[i] != "" {
			item.Picture = template.URL("cid:" + pictures[i])
		}
		page.Lines = append(page.Lines, item)
	}
	page.Button = s.Say("letter.button", nil)
	var b bytes.Buffer
	if err := letterTemplate.Execute(&b, page); err != nil {
		return "", fmt.Errorf("write letter: %w", err)
	}
	return b.String(), nil
}

// ComposeTest is a test message.
func ComposeTest(s phrase.Speaker, farmName, recipient string) (Letter, error) {
	line := TestWords(s, farmName, recipient)
	l := Letter{Subject: line.Subject, Text: letterText([]Line{line}, foot{}), SMS: gsm7.Fit(line.SMS...)}
	var err error
	l.HTML, err = letterAsHTML(s, []Line{line}, foot{}, Links{}, []string{""})
	return l, err
}
