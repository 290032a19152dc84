package gsm7

import (
	"regexp"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// substitutes are what a reader takes for the same sign. A degree sign goes
// altogether: it would turn the message into UCS-2 and halve its length.
var substitutes = map[rune]string{
	'°': "", 'º': "", 'ª': "",
	'‐': "-", '‑': "-", '‒': "-", '–': "-", '—': "-", '―': "-", '−': "-",
	'‘': "'", '’': "'", '‚': "'", '‛': "'", '′': "'", '`': "'", '´': "'", '‹': "'", '›': "'",
	'“': `"`, '”': `"`, '„': `"`, '‟': `"`, '″': `"`, '«': `"`, '»': `"`,
	'•': "-", '·': "-", '×': "x", '÷': "/", '⁄': "/", '∕': "/",
	'≤': "<=", '≥': ">=", '≈': "~", '≠': "<>", '±': "+/-", '→': "->", '←': "<-",
	'ł': "l", 'Ł': "L", 'đ': "d", 'Đ': "D", 'ð': "d", 'Ð': "D", 'þ': "th", 'Þ': "Th",
	'œ': "oe", 'Œ': "OE", 'ı': "i", 'ẞ': "SS", 'µ': "u", 'μ': "u", '¢': "c",
	'½': ".5", '¼': ".25", '¾': ".75",
	'©': "(c)", '®': "(r)", '\t': " ", '\f': " ", '\v': " ", '\u0085': "\n", '\u2028': "\n", '\u2029': "\n",
}

// Plain brings any text into the 7-bit alphabet: "-6 °C" becomes "-6C", dashes
// and quotes their plain forms, accented letters that are not in the alphabet
// their nearest ("í" i), while é è ù ì ò à ä ö ñ ü å ø æ ß stay. Pictures and
// control characters go; a letter without a likeness becomes "?".
func Plain(text string) string {
	var b strings.Builder
	for _, r := range norm.NFC.String(closeDegrees(text)) {
		b.WriteString(plainRune(r))
	}
	return b.String()
}

// closeDegrees takes away the space between a number and its degree sign.
func closeDegrees(text string) string { return degrees.ReplaceAllString(text, "$1$2") }

var degrees = regexp.MustCompile(`(\d)[ \x{a0}\x{2009}\x{202f}]+([°℃℉])`)

func plainRune(r rune) string {
	if s, ok := substitutes[r]; ok {
		return s
	}
	if cost(r) > 0 {
		return string(r)
	}
	if unicode.IsSpace(r) {
		return " "
	}
	return nearest(r)
}

// nearest takes a character apart (Unicode NFKD) and keeps what is in the alphabet.
func nearest(r rune) string {
	var b strings.Builder
	for _, d := range norm.NFKD.String(string(r)) {
		if s, ok := substitutes[d]; ok {
			b.WriteString(s)
		} else if cost(d) > 0 {
			b.WriteRune(d)
		}
	}
	if b.Len() == 0 && (unicode.IsLetter(r) || unicode.IsNumber(r) || r == unicode.ReplacementChar) {
		return "?"
	}
	return b.String()
}
