package crop

import (
	"bufio"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"winterstand/internal/unit"
)

// Columns is how wide the tables for people are, in characters.
const Columns = 80

const tableHead = `Half of the plant dies at these temperatures of its own tissue (a leaf on a clear
calm night is 1 to 3 K colder than the air): soft = grown warm, hard = hardened by
weeks of cold. It stops being fit to sell "quality" above that. "spread" is how
much plants, farms and lists differ (one standard deviation).
`

// Table writes one line a crop, in the reader's units.
func Table(w io.Writer, s unit.System, crops []Crop) error {
	b := bufio.NewWriter(w)
	b.WriteString(wrap(strings.Join(strings.Fields(tableHead), " "), 0))
	fmt.Fprintf(b, "\n%-26s %-6s %8s %8s %8s %8s  %s\n", "crop", "sold", "soft", "hard", "quality", "spread", "remarks")
	for _, c := range crops {
		line := fmt.Sprintf("%-26s %-6s %8s %8s %8s %8s  %s", c.Name, c.Organ, s.Temperature(c.Sold.Unhardened),
			s.Temperature(c.Sold.Full), s.Difference(c.Margin), s.Difference(c.Spread), flags(c))
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
	b.WriteString("\nr regrows in spring   c chills above freezing   g judged in the ground\n? rests on one list from memory\n")
	return b.Flush()
}

func flags(c Crop) string {
	f := ""
	for _, x := range []struct {
		on   bool
		mark string
	}{{c.Regrow.Known(), "r"}, {c.Chill.Known(), "c"}, {!c.Organ.AboveGround(), "g"}, {c.Review, "?"}} {
		if x.on {
			f += x.mark
		}
	}
	return f
}

// Detail writes one crop with every figure, where it comes from and what the
// sources say against each other.
func Detail(w io.Writer, s unit.System, language string, c Crop) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "%s: %s (%s, %s)\n", c.Name, c.Title(language), c.Family, c.Organ)
	paragraph(b, "also", strings.Join(c.Aliases, ", "))
	paragraph(b, "soft / cold / hard", strings.Join([]string{s.Temperature(c.Sold.Unhardened),
		s.Temperature(c.Sold.Cold), s.Temperature(c.Sold.Full)}, " / ")+", tissue")
	paragraph(b, "remark", c.Remark)
	paragraph(b, "lists disagree", c.Conflict)
	if c.Review {
		paragraph(b, "review", "rests on one list from memory; have somebody look at it")
	}
	writeFigures(b, c.Figures)
	writeEvidence(b, c)
	return b.Flush()
}

func writeFigures(b *bufio.Writer, figures []Figure) {
	fmt.Fprintf(b, "\n%-17s %10s  %-10s %-15s %-7s %s\n", "figure", "value", "basis", "known by", "trust", "sources")
	for _, f := range figures {
		line := fmt.Sprintf("%-17s %10s  %-10s %-15s %-7s ", f.Name, fmt.Sprintf("%g %s", f.Value, f.Unit),
			f.Basis, f.Mark, f.Confidence)
		codes := strings.Join(f.Codes, ", ")
		if utf8.RuneCountInString(line+codes) > Columns {
			line, codes = strings.TrimRight(line, " "), "\n    "+codes
		}
		fmt.Fprintln(b, line+codes)
		if f.Note != "" {
			b.WriteString(wrap("    "+f.Note, 4))
		}
	}
}

func writeEvidence(b *bufio.Writer, c Crop) {
	if len(c.Evidence) > 0 {
		b.WriteString("\nwhat sources say without a number\n")
	}
	for _, e := range c.Evidence {
		b.WriteString(wrap(fmt.Sprintf("  %s (%s): %s", e.Source, e.Mark, e.Says), 4))
	}
	b.WriteString("\nsources\n")
	for _, code := range slices.Sorted(maps.Keys(c.Sources)) {
		b.WriteString(wrap("  "+code+": "+c.Sources[code], 4))
	}
}

func paragraph(b *bufio.Writer, label, text string) {
	if text != "" {
		b.WriteString(wrap(label+": "+text, 2))
	}
}

// wrap breaks a text at spaces so that no line is wider than Columns; lines
// after the first are set in. A leading blank is kept, and a number stays with
// its degree sign.
func wrap(text string, indent int) string {
	text = strings.ReplaceAll(text, " °", "\x00°")
	lead := text[:len(text)-len(strings.TrimLeft(text, " "))]
	var out strings.Builder
	line := lead
	for _, word := range strings.Fields(text) {
		glue := " "
		if strings.TrimSpace(line) == "" {
			glue = ""
		}
		if utf8.RuneCountInString(line+glue+word) > Columns && glue != "" {
			out.WriteString(line + "\n")
			line, glue = strings.Repeat(" ", indent), ""
		}
		line += glue + word
	}
	out.WriteString(line + "\n")
	return strings.ReplaceAll(out.String(), "\x00", " ")
}
