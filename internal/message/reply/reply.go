// Package reply reads what people text back. Whatever it does not understand in
// full is Unknown; it never guesses. The words stand in the phrase files.
package reply

import (
	"errors"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"winterstand/internal/unit"
)

// Received is a text that somebody sent.
type Received struct {
	From string // E.164 where the gateway gives the digits of one, else as given
	Text string
	ID   string // the gateway's own, for telling repeats; may be empty
}

// Errors of whoever takes replies from a gateway.
var (
	ErrNotSigned = errors.New("reply does not come from the gateway: wrong or missing signature, timestamp or token")
	ErrNoReply   = errors.New("reply cannot be read")
)

// mostKg is more than anybody carries out of one bed; beyond it a number is a slip.
const mostKg = 100_000

// Meaning is what somebody has texted back.
type Meaning struct {
	Word Word
	Kg   unit.Maybe[float64] // after HARVESTED; missing: all of it
	Beds [][]int             // for each name said, the positions of the beds called so; none: said of none
}

// Parse reads a reply of somebody who was asked about the given beds, any of
// which may be named: "harvested A1 40 kg", "A1 and A2 covered". A number
// without a unit is in that of the system; empty: in none, so it is unknown.
// A bed whose name is a mere number must be called so, "bed 4": without it the
// number may be a weight, and the reply is unknown.
func (v Vocabulary) Parse(text string, number unit.System, beds []string) Meaning {
	tokens := tokenize(text)
	if len(tokens) == 0 {
		return Meaning{}
	}
	if v.stops(tokens) {
		return Meaning{Word: Stop}
	}
	tokens, named, ok := v.takeBeds(tokens, beds)
	if !ok {
		return Meaning{}
	}
	kg, rest, ok := v.quantity(tokens, number)
	if !ok || len(rest) == 0 {
		return Meaning{}
	}
	word := v.wordOf(rest)
	aboutBeds := word == Harvested || word == Covered || word == LeaveIt || word == Seen
	if word == Unknown || kg.Known() && word != Harvested || len(named) > 0 && !aboutBeds {
		return Meaning{}
	}
	return Meaning{Word: word, Kg: kg, Beds: named}
}

// stops tells whether a text ends messages, whatever follows: STOP, OPT OUT.
func (v Vocabulary) stops(tokens []string) bool {
	return v.is(tokens[0], string(Stop)) || len(tokens) > 1 && v.is(tokens[0]+tokens[1], string(Stop))
}

// wordOf is what the first word means, if no other says something else. NOT or
// HALF, which nobody listed, make it unknown.
func (v Vocabulary) wordOf(tokens []string) Word {
	word := v.meaning(tokens[0])
	if v.is(tokens[0], stopAlone) {
		word = Stop
	}
	for _, t := range tokens[1:] {
		if !v.is(t, filler) && v.meaning(t) != word {
			return Unknown
		}
	}
	return word
}

var tokenPattern = regexp.MustCompile(`\d+(?:[.,]\d+)*|\p{L}+|[^\s\p{L}\d]`)

// tokenize gives numbers and words without accents; punctuation goes, a sign that
// means something stays as a token nobody knows.
func tokenize(text string) []string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(text) {
		if !unicode.Is(unicode.Mn, r) {
			b.WriteRune(unicode.ToUpper(r))
		}
	}
	var tokens []string
	for _, t := range tokenPattern.FindAllString(b.String(), -1) {
		r := []rune(t)[0]
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '%' || r == '/' || r == '?' || r == '¿' {
			tokens = append(tokens, t)
		}
	}
	return tokens
}

// quantity takes one number with its unit out of the tokens.
func (v Vocabulary) quantity(tokens []string, system unit.System) (kg unit.Maybe[float64], rest []string, ok bool) {
	for i := 0; i < len(tokens); i++ {
		if !isNumber(tokens[i]) {
			rest = append(rest, tokens[i])
			continue
		}
		if kg.Known() {
			return kg, nil, false
		}
		perUnit, used := v.unitAfter(tokens[i+1:], system)
		n, readable := number(tokens[i], perUnit != 1)
		if perUnit == 0 || !readable || n <= 0 || n*perUnit > mostKg {
			return kg, nil, false
		}
		kg = unit.Some(n * perUnit)
		i += used
	}
	return kg, rest, true
}

// unitAfter is the kilograms in the unit that follows a number and the tokens it
// took; 0 kilograms: none is known.
func (v Vocabulary) unitAfter(next []string, system unit.System) (kg float64, used int) {
	switch {
	case len(next) > 0 && v.is(next[0], kilogram):
		return 1, 1
	case len(next) > 0 && v.is(next[0], pound):
		return unit.KilogramsPerPound, 1
	case system == unit.US:
		return unit.KilogramsPerPound, 0
	case system == unit.Metric:
		return 1, 0
	}
	return 0, 0
}

// number reads 40, 40.5, 40,5 and, in pounds, 1,200. Elsewhere three digits
// after one separator may be thousands or a scale's decimals, a thousandfold
// apart: not readable, unless a zero stands before.
func number(s string, inPounds bool) (float64, bool) {
	at := strings.LastIndexAny(s, ".,")
	if at >= 0 && len(s)-at == 4 && s[:at] != "0" {
		if !inPounds || strings.Contains(s, ".") {
			return 0, false
		}
		s = strings.ReplaceAll(s, ",", "")
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return v, err == nil
}
