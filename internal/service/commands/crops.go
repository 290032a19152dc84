package commands

import (
	"errors"

	"winterstand/internal/crop"
	"winterstand/internal/message/phrase"
)

// aCrop tests a crop's name; the refusal names the nearest ones.
func (d Service) aCrop(name string) phrase.Line {
	_, err := d.Catalogue.Find(name)
	if err == nil {
		return fine
	}
	var unknown *crop.UnknownError
	if errors.As(err, &unknown) && len(unknown.Near) > 0 {
		return reason("crop_near", "near", unknown.Near)
	}
	return reason("crop")
}

// cropKey is the catalogue's own key for a name that has passed aCrop.
func (d Service) cropKey(name string) string {
	c, err := d.Catalogue.Find(name)
	if err != nil {
		return ""
	}
	return c.Name
}
