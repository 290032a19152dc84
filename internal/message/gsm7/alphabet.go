// Package gsm7 counts and shapes text for short messages: the GSM 7-bit default
// alphabet with its extension table, what a text costs in segments, and how to
// bring any text into the alphabet.
//
// Source of the alphabet: 3GPP TS 23.038, 6.2.1 (default alphabet) and 6.2.1.1
// (default extension table). Source of the lengths: 3GPP TS 23.040, 9.2.3.24.1
// (concatenated short messages, 8-bit reference number).
package gsm7

// basic holds the default alphabet in code order, 0x00 to 0x7F. 0x1B is the
// escape to the extension table and no character, so U+001B stands there.
const basic = "@£$¥èéùìòÇ\nØø\rÅå" +
	"Δ_ΦΓΛΩΠΨΣΘΞ\x1bÆæßÉ" +
	" !\"#¤%&'()*+,-./" +
	"0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNO" +
	"PQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmno" +
	"pqrstuvwxyzäöñüà"

const escape = '\x1b'

// extension maps what follows an escape; each costs two septets.
var extension = map[rune]byte{
	'\f': 0x0A, '^': 0x14, '{': 0x28, '}': 0x29, '\\': 0x2F,
	'[': 0x3C, '~': 0x3D, ']': 0x3E, '|': 0x40, '€': 0x65,
}

var code = codes()

func codes() map[rune]byte {
	m := make(map[rune]byte, 128)
	at := byte(0)
	for _, r := range basic {
		if r != escape {
			m[r] = at
		}
		at++
	}
	return m
}

// cost is the number of septets of one character, 0 where it is not in the alphabet.
func cost(r rune) int {
	if _, ok := code[r]; ok {
		return 1
	}
	if _, ok := extension[r]; ok {
		return 2
	}
	return 0
}

// Septets counts the septets of a text; ok is false where a character is not
// in the alphabet, and then the count means nothing.
func Septets(text string) (n int, ok bool) {
	for _, r := range text {
		c := cost(r)
		if c == 0 {
			return 0, false
		}
		n += c
	}
	return n, true
}

// Encodable tells whether every character is in the alphabet.
func Encodable(text string) bool {
	_, ok := Septets(text)
	return ok
}
