package commands

import "strings"

// aCrop tests a crop's name; the refusal names the nearest ones.
func (d Desk) aCrop(name string) string {
	_, err := d.Catalogue.Find(name)
	if err == nil {
		return ""
	}
	if _, near, ok := strings.Cut(err.Error(), "did you mean "); ok {
		return "is not in the catalogue; did you mean " + near
	}
	return "is not in the catalogue; /v1/crops and `winterstand crops` list it"
}

// cropKey is the catalogue's own key for a name that has passed aCrop.
func (d Desk) cropKey(name string) string {
	c, err := d.Catalogue.Find(name)
	if err != nil {
		return ""
	}
	return c.Name
}
