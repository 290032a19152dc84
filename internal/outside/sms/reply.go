package sms

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"winterstand/internal/farm"
	"winterstand/internal/unit"
)

// Word is what a reply means.
type Word string

// Words. The first four are the answers to a notice; Unknown must be asked
// about, never guessed.
const (
	Harvested Word = farm.Harvested
	Covered   Word = farm.Covered
	LeaveIt   Word = farm.LeaveIt
	Seen      Word = farm.Seen
	Stop      Word = "stop"
	Start     Word = "start"
	Help      Word = "help"
	Unknown   Word = ""
)

// meanings are first words, without accents, in English and Spanish. The words
// that end messages are those that networks in North America treat so (CTIA
// Messaging Principles and Best Practices, 5.1.3, from memory) and the Spanish
// ones in use.
var meanings = words(map[Word]string{
	Harvested: "HARVESTED ALL COSECHADO COSECHADA COSECHADOS COSECHADAS COSECHE TODO TODA",
	Covered:   "COVERED CUBIERTO CUBIERTA CUBIERTOS CUBIERTAS CUBRI TAPADO TAPADA",
	LeaveIt:   "LEAVE DEJAR DEJALO DEJALA DEJARLO DEJARLA",
	Seen:      "SEEN VISTO VISTA",
	Start:     "START UNSTOP INICIAR EMPEZAR",
	Help:      "HELP INFO AYUDA",
})

// stops end messages whatever follows; mildStops only by themselves, for
// "cancel the harvest" means something else.
var (
	stops     = set("STOP STOPALL UNSUBSCRIBE OPTOUT REVOKE ALTO PARAR")
	mildStops = set("CANCEL END QUIT CANCELAR FIN SALIR BAJA")
)

// fillers may stand beside a word without changing it. Anything else, such as
// NOT or HALF, makes the reply unknown.
var fillers = set("ALL IT THEM THE BED BEDS THIS ONE PLEASE THANKS THANK YOU OK NOW TODAY DONE " +
	"TODO TODA TODOS TODAS YA LO LA LAS EL CAMA CAMAS BANCAL BANCALES POR FAVOR GRACIAS HOY AHORA ESTO ESTA")

var kilograms = set("KG KGS KILO KILOS KILOGRAM KILOGRAMS KILOGRAMO KILOGRAMOS")
var pounds = set("LB LBS POUND POUNDS LIBRA LIBRAS")

func words(m map[Word]string) map[string]Word {
	all := map[string]Word{}
	for w, list := range m {
		for _, s := range strings.Fields(list) {
			all[s] = w
		}
	}
	return all
}

func set(list string) map[string]bool {
	m := map[string]bool{}
	for _, s := range strings.Fields(list) {
		m[s] = true
	}
	return m
}

// mostKg is more than anybody carries out of one bed; beyond it a number is a slip.
const mostKg = 100_000

// Meaning is what somebody has texted back.
type Meaning struct {
	Word Word
	Kg   unit.Maybe[float64] // after HARVESTED; missing: all of it
	Beds [][]int             // for each name said, the positions of the beds called so; none: said of none
}

// ParseReplyAbout is ParseReply where some of the given beds may be named too:
// "harvested A1 40 kg", "A1 and A2 covered".
// A bed whose name is a mere number must be called so, "bed 4": without it the
// number may be a weight, and the reply is unknown.
func ParseReplyAbout(text string, number unit.System, beds []string) Meaning {
	tokens := tokenize(text)
	if len(tokens) == 0 {
		return Meaning{}
	}
	if stops[tokens[0]] || len(tokens) > 1 && tokens[0]+tokens[1] == "OPTOUT" {
		return Meaning{Word: Stop}
	}
	tokens, named, ok := takeBeds(tokens, beds)
	if !ok {
		return Meaning{}
	}
	kg, rest, ok := quantity(tokens, number)
	if !ok || len(rest) == 0 {
		return Meaning{}
	}
	word := meanings[rest[0]]
	if mildStops[rest[0]] {
		word = Stop
	}
	for _, t := range rest[1:] {
		if !fillers[t] && meanings[t] != word {
			return Meaning{}
		}
	}
	aboutBeds := word == Harvested || word == Covered || word == LeaveIt || word == Seen
	if kg.Known() && word != Harvested || len(named) > 0 && !aboutBeds {
		return Meaning{}
	}
	return Meaning{Word: word, Kg: kg, Beds: named}
}

var tokenPattern = regexp.MustCompile(`\d+(?:[.,]\d+)*|[A-Z]+|[^\sA-Z\d]`)

// tokenize gives numbers and words without accents; punctuation goes, any other
// letter or sign that means something stays as a token nobody knows.
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
func quantity(tokens []string, system unit.System) (kg unit.Maybe[float64], rest []string, ok bool) {
	for i := 0; i < len(tokens); i++ {
		if !isNumber(tokens[i]) {
			rest = append(rest, tokens[i])
			continue
		}
		if kg.Known() {
			return kg, nil, false
		}
		perUnit, used := unitAfter(tokens[i+1:], system)
		v, readable := number(tokens[i], perUnit != 1)
		if perUnit == 0 || !readable || v <= 0 || v*perUnit > mostKg {
			return kg, nil, false
		}
		kg = unit.Some(v * perUnit)
		i += used
	}
	return kg, rest, true
}

// unitAfter is the kilograms in the unit that follows a number and the tokens it
// took; 0 kilograms: none is known.
func unitAfter(next []string, system unit.System) (kg float64, used int) {
	switch {
	case len(next) > 0 && kilograms[next[0]]:
		return 1, 1
	case len(next) > 0 && pounds[next[0]]:
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
