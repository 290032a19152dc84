package gsm7

// Lengths of a message of 140 octets (3GPP TS 23.040): 160 septets or 70 UTF-16
// units alone; 153 or 67 when the six octets of a concatenation header go before.
const (
	SingleSeptets = 160
	PartSeptets   = 153
	SingleUCS2    = 70
	PartUCS2      = 67
)

// Segments counts the short messages that a text takes: in the 7-bit alphabet
// where every character is in it, in UCS-2 otherwise. An empty text takes one.
func Segments(text string) int { return len(Split(text)) }

// Split cuts a text into the segments it is sent as. Neither an escape pair nor
// a surrogate pair is ever parted.
func Split(text string) []string {
	if Encodable(text) {
		return split(text, cost, SingleSeptets, PartSeptets)
	}
	return split(text, units, SingleUCS2, PartUCS2)
}

// units is the number of UTF-16 units of a character.
func units(r rune) int {
	if r > 0xFFFF {
		return 2
	}
	return 1
}

func split(text string, cost func(rune) int, single, part int) []string {
	total := 0
	for _, r := range text {
		total += cost(r)
	}
	if total <= single {
		return []string{text}
	}
	var parts []string
	start, used := 0, 0
	for i, r := range text {
		if c := cost(r); used+c > part {
			parts = append(parts, text[start:i])
			start, used = i, c
		} else {
			used += c
		}
	}
	return append(parts, text[start:])
}
