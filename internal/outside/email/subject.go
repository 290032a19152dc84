package email

import (
	"fmt"
	"strings"
)

// lineLength is what a header line with an encoded word may have at most
// (RFC 2047, 2).
const lineLength = 76

// encodeSubject writes a subject as it stands after "Subject: ", folded so that
// something stands on the first line: readers keep the space of an empty one.
func encodeSubject(subject string) string {
	if plainASCII(subject) {
		return foldWords(subject, len("Subject: "))
	}
	const opening, closing = "=?utf-8?q?", "?="
	var b strings.Builder
	b.WriteString(opening)
	used := len("Subject: ") + len(opening)
	for _, r := range subject {
		q := quoted(r)
		if used+len(q)+len(closing) > lineLength {
			b.WriteString(closing + "\r\n " + opening)
			used = 1 + len(opening)
		}
		b.WriteString(q)
		used += len(q)
	}
	return b.String() + closing
}

// quoted is one character in Q encoding; never split (RFC 2047, 5).
func quoted(r rune) string {
	switch {
	case r == ' ':
		return "_"
	case r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z', strings.ContainsRune("!*+-/:,.()", r):
		return string(r)
	}
	var b strings.Builder
	for _, c := range []byte(string(r)) {
		fmt.Fprintf(&b, "=%02X", c)
	}
	return b.String()
}

// plainASCII tells whether a subject can stand as it is. One that looks like an
// encoded word cannot.
func plainASCII(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r > '~' }) && !strings.Contains(s, "=?") &&
		s == strings.TrimSpace(s) && !strings.Contains(s, "  ")
}

func foldWords(s string, used int) string {
	var b strings.Builder
	for i, word := range strings.Split(s, " ") {
		switch {
		case i == 0:
		case used+1+len(word) > lineLength:
			b.WriteString("\r\n ")
			used = 1
		default:
			b.WriteByte(' ')
			used++
		}
		b.WriteString(word)
		used += len(word)
	}
	return b.String()
}
