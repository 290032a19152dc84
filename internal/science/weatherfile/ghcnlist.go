package weatherfile

import (
	"fmt"
	"strings"
)

// listOrder is the order of the list form, which NOAA writes without a header:
// ID, date, element, value, M-flag, Q-flag, S-flag, time of observation.
var listOrder = head{"STATION": 0, "DATE": 1, "ELEMENT": 2, "VALUE": 3, "QFLAG": 5}

// isListRow tells a header-less list by its first row.
func isListRow(row []string) bool {
	if len(row) < 4 || !stationID.MatchString(strings.TrimSpace(row[0])) {
		return false
	}
	_, ok := ghcnDate(strings.TrimSpace(row[1]))
	return ok
}

// listHeader finds the columns under the names that are in use.
func listHeader(h head) head {
	names := map[string][]string{
		"STATION": {"STATION", "ID"}, "DATE": {"DATE"}, "ELEMENT": {"ELEMENT"},
		"VALUE": {"VALUE", "DATA_VALUE", "DATA VALUE"},
		"QFLAG": {"QFLAG", "Q_FLAG", "Q-FLAG", "QUALITY_FLAG"},
	}
	out := head{}
	for name, spellings := range names {
		for _, s := range spellings {
			if i, ok := h[s]; ok {
				out[name] = i
			}
		}
	}
	return out
}

// readList reads the list form.
func readList(t *table, h head, opt Options) (File, error) {
	if err := t.need(h, "STATION", "DATE", "ELEMENT", "VALUE", "QFLAG"); err != nil {
		return File{}, err
	}
	g := newGHCN(opt)
	if err := t.each(func(row []string) error { return g.listRow(t, h, row) }); err != nil {
		return File{}, err
	}
	return g.file(GHCNList, t.name, t.line)
}

func (g *ghcn) listRow(t *table, h head, row []string) error {
	station := h.cell(row, "STATION")
	if ok, other := g.takes(station); other != "" {
		return t.manyStations(other, station)
	} else if !ok {
		return nil
	}
	date, ok := ghcnDate(h.cell(row, "DATE"))
	if !ok {
		return t.fault("DATE", what{NotADay, clip(h.cell(row, "DATE")), "20261114"}, fmt.Sprintf("%q is not a calendar day", clip(h.cell(row, "DATE"))), "write it like 20261114")
	}
	element := h.cell(row, "ELEMENT")
	if !used(element) {
		return nil
	}
	g.touch(date)
	return g.cell(t, date, element, "VALUE", h.cell(row, "VALUE"), h.cell(row, "QFLAG"), UnitsTenths)
}

func (t *table) manyStations(a, b string) error {
	return t.fault("STATION", what{Station, clip(b), clip(a)}, fmt.Sprintf("a second station %s after %s", clip(b), clip(a)), "name the one that is meant")
}
