package main

import (
	"encoding/json"
	"io"
	"strings"
	"unicode/utf8"
)

// reflow fits every paragraph into the columns. Lines that are set in stay as
// they are.
func reflow(text string) string {
	var out []string
	for block := range strings.SplitSeq(text, "\n\n") {
		out = append(out, reflowBlock(block))
	}
	return strings.Join(out, "\n\n")
}

func reflowBlock(block string) string {
	var out, running []string
	flush := func() {
		if len(running) > 0 {
			out = append(out, wrapped(strings.Join(running, " "), "", columns))
			running = nil
		}
	}
	for line := range strings.SplitSeq(block, "\n") {
		if strings.HasPrefix(line, " ") {
			flush()
			out = append(out, line)
			continue
		}
		running = append(running, line)
	}
	flush()
	return strings.Join(out, "\n")
}

// wrapped breaks a text at spaces so that no line is wider than so many columns,
// each beginning with the indent; a word that is wider stays whole.
func wrapped(text, indent string, most int) string {
	var lines []string
	line := indent
	for _, word := range strings.Fields(text) {
		switch {
		case strings.TrimSpace(line) == "":
			line += word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > most:
			lines = append(lines, line)
			line = indent + word
		default:
			line += " " + word
		}
	}
	return strings.Join(append(lines, line), "\n")
}

// printJSON writes a value for programs.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
