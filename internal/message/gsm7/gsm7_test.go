package gsm7

import (
	"encoding/hex"
	"os/exec"
	"strings"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Codes as printed in 3GPP TS 23.038, tables 6.2.1 and 6.2.1.1.
func TestCodesOfTheStandard(t *testing.T) {
	for text, want := range map[string]string{
		"@": "00", "£": "01", "Ç": "09", "\n": "0a", "\r": "0d", "Δ": "10", "_": "11", "Ξ": "1a",
		"Æ": "1c", "É": "1f", " ": "20", "¤": "24", "0": "30", "¡": "40", "A": "41", "Z": "5a",
		"Ä": "5b", "§": "5f", "¿": "60", "a": "61", "z": "7a", "ä": "7b", "ñ": "7d", "ü": "7e", "à": "7f",
		"€": "1b65", "{": "1b28", "}": "1b29", "[": "1b3c", "~": "1b3d", "]": "1b3e", "\\": "1b2f", "^": "1b14", "|": "1b40", "\f": "1b0a",
	} {
		got, ok := encode(text)
		require.True(t, ok, "%q", text)
		assert.Equal(t, want, hex.EncodeToString(got), "%q", text)
	}
	assert.Len(t, code, 127, "128 codes less the escape")
	for _, r := range "°`ç–—’“”−≤íóúá\t\x1b😀" {
		assert.False(t, Encodable(string(r)), "%q", r)
	}
}

// The reference is the gsm0338 codec of Perl's Encode, written against
// ETSI TS 123 038 V16.0.0: every character of the basic plane, both ways.
func TestSameAlphabetAsPerlEncode(t *testing.T) {
	perl, err := exec.LookPath("perl")
	if err != nil {
		t.Skip("perl is not installed: the alphabet was not compared with its Encode module")
	}
	const script = `use Encode; for my $c (1..0xD7FF, 0xE000..0xFFFD) {
		my $s = chr($c); my $b = eval { encode("gsm0338", $s, Encode::FB_CROAK) };
		printf "%x %s\n", $c, unpack("H*", $b) if defined $b && length $b }`
	out, err := exec.Command(perl, "-e", script).Output()
	if err != nil {
		t.Skipf("perl has no usable Encode module (%v): the alphabet was not compared with it", err)
	}
	theirs := strings.TrimSpace(string(out))
	assert.Equal(t, theirs, strings.TrimSpace(everyCharacter()))
}

func everyCharacter() string {
	var b strings.Builder
	for r := rune(1); r <= 0xFFFD; r++ {
		if septets, ok := encode(string(r)); ok && utf8.ValidRune(r) {
			b.WriteString(strings.TrimLeft(hex.EncodeToString([]byte{byte(r >> 8), byte(r)}), "0"))
			b.WriteString(" " + hex.EncodeToString(septets) + "\n")
		}
	}
	return b.String()
}

// Lengths of 3GPP TS 23.040, 9.2.3.24.1: 160/153 septets, 70/67 UTF-16 units.
func TestSegments(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       int
	}{
		{"empty", "", 1},
		{"one full", strings.Repeat("a", 160), 1},
		{"one over", strings.Repeat("a", 161), 2},
		{"two full", strings.Repeat("a", 306), 2},
		{"two over", strings.Repeat("a", 307), 3},
		{"pairs fill one", strings.Repeat("€", 80), 1},
		{"pairs spill", strings.Repeat("€", 81), 2},
		{"a pair never straddles: 76 in each part", strings.Repeat("€", 152), 2},
		{"153 pairs would be 306 septets, yet take three", strings.Repeat("€", 153), 3},
		{"UCS-2 full", strings.Repeat("°", 70), 1},
		{"UCS-2 over", strings.Repeat("°", 71), 2},
		{"UCS-2 two full", strings.Repeat("°", 134), 2},
		{"UCS-2 two over", strings.Repeat("°", 135), 3},
		{"surrogates fill one", strings.Repeat("😀", 35), 1},
		{"surrogates: 33 in each part", strings.Repeat("😀", 66), 2},
		{"surrogates spill", strings.Repeat("😀", 67), 3},
	} {
		assert.Equal(t, c.want, Segments(c.text), c.name)
	}
}

func TestPlain(t *testing.T) {
	for in, want := range map[string]string{
		"-6 °C":                 "-6C",
		"−6\u00a0°C":            "-6C",
		"20°F":                  "20F",
		"down to −11.5 ℃":       "down to -11.5C",
		"Mañana, café, über, à": "Mañana, café, über, à",
		"cosecha el miércoles a más tardar, jardín": "cosecha el miércoles a mas tardar, jardin",
		"“Bed 3” – it’s time…":                      `"Bed 3" - it's time...`,
		"ç Č ő ł":                                   "c C o l",
		"n\u0303":                                   "ñ",
		"2½ in":                                     "2.5 in",
		"W/m²":                                      "W/m2",
		"kale 🥬 now":                                "kale  now",
		"грядка":                                    "??????",
		"tab\tand\u2028line":                        "tab and\nline",
		"0.5 €":                                     "0.5 €",
	} {
		assert.Equal(t, want, Plain(in), "%q", in)
	}
}

func TestFitDropsTheLeastImportant(t *testing.T) {
	first := "Bed 3 chard: harvest before Thu 14 Nov 21:00."
	long := strings.TrimSpace(strings.Repeat("why so ", 40))
	assert.Equal(t, first+" Short.", Fit(first, "Short."))
	assert.Equal(t, first, Fit(first, long, "Short."), "what follows a dropped sentence goes with it")
	assert.Equal(t, first, FitIn(1, first, strings.Repeat("b ", 80)))
	assert.Empty(t, Fit())
	assert.Empty(t, Fit("", " "))
	assert.Equal(t, 2, Segments(Fit(strings.Repeat("x", 400))), "a single word longer than everything is cut")
}

func TestFitNeverCutsAWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[a-zñé€{°]{1,40}`), 1, 60).Draw(t, "words")
		got := Fit(strings.Join(words, " "))
		whole := map[string]bool{}
		for _, w := range words {
			whole[Plain(w)] = true
		}
		for _, w := range strings.Fields(got) {
			assert.True(t, whole[w], "%q is no word of the text", w)
		}
		assert.LessOrEqual(t, Segments(got), MostSegments)
	})
}

func TestSplitLosesNothingAndPartsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("ab€{~é°😀\n"))).Draw(t, "text")
		parts := Split(text)
		assert.Equal(t, text, strings.Join(parts, ""))
		for _, p := range parts {
			assert.True(t, utf8.ValidString(p))
			if n, ok := Septets(text); ok && n > SingleSeptets {
				got, _ := Septets(p)
				assert.LessOrEqual(t, got, PartSeptets)
			} else if !ok {
				assert.LessOrEqual(t, len(utf16.Encode([]rune(p))), SingleUCS2)
			}
		}
	})
}

func FuzzFit(f *testing.F) {
	f.Add("Harvest before Thu −6 °C", "why", "link")
	f.Add(strings.Repeat("€", 200), "\xff\xfe", "😀 ½ ﷺ")
	f.Fuzz(func(t *testing.T, a, b, c string) {
		got := Fit(a, b, c)
		if !Encodable(got) {
			t.Fatalf("%q cannot be encoded", got)
		}
		if n := Segments(got); n > MostSegments {
			t.Fatalf("%d segments: %q", n, got)
		}
		if Plain(got) != got {
			t.Fatalf("plain text changes when made plain again: %q", got)
		}
	})
}

// encode gives the septets of a text, one to a byte, unpacked; ok is false where a
// character is not in the alphabet.
func encode(text string) (septets []byte, ok bool) {
	for _, r := range text {
		if c, in := code[r]; in {
			septets = append(septets, c)
			continue
		}
		c, in := extension[r]
		if !in {
			return nil, false
		}
		septets = append(septets, escape, c)
	}
	return septets, true
}
