package gsm7

import "strings"

// MostSegments is what a notice may take.
const MostSegments = 2

// Fit joins sentences, given in order of importance, into one text of at most
// two segments. See FitIn.
func Fit(sentences ...string) string { return FitIn(MostSegments, sentences...) }

// FitIn makes each sentence plain and joins them with a space. While the text
// takes more than the given number of segments the last, least important,
// sentence goes. Where even the first alone is too long its last words go, never
// part of a word; only a single word longer than everything is cut.
func FitIn(segments int, sentences ...string) string {
	segments = max(segments, 1)
	kept := plainSentences(sentences)
	for n := len(kept); n > 1; n-- {
		if text := strings.Join(kept[:n], " "); Segments(text) <= segments {
			return text
		}
	}
	if len(kept) == 0 {
		return ""
	}
	return fitWords(segments, kept[0])
}

func plainSentences(sentences []string) []string {
	var kept []string
	for _, s := range sentences {
		if s = strings.TrimSpace(Plain(s)); s != "" {
			kept = append(kept, s)
		}
	}
	return kept
}

func fitWords(segments int, sentence string) string {
	parts := Split(sentence)
	if len(parts) <= segments {
		return sentence
	}
	head := strings.Join(parts[:segments], "")
	if isSpace(sentence[len(head)]) {
		return strings.TrimSpace(head)
	}
	if cut := strings.LastIndexAny(head, " \n\r"); cut > 0 {
		return strings.TrimSpace(head[:cut])
	}
	return head
}

func isSpace(b byte) bool { return b == ' ' || b == '\n' || b == '\r' }
