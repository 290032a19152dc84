package desk

// aCrop tests a crop's name; the refusal names the nearest ones.
func (d Desk) aCrop(name string) string {
	if _, err := d.Catalogue.Find(name); err != nil {
		return err.Error()
	}
	return ""
}

// cropKey is the catalogue's own key for a name that has passed aCrop.
func (d Desk) cropKey(name string) string {
	c, err := d.Catalogue.Find(name)
	if err != nil {
		return ""
	}
	return c.Name
}
