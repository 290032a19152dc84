package microclimate

// Invent puts a cover into the table for a test; forget takes it out.
func Invent(c Cover, s Shelter) (forget func()) {
	shelters[c] = s
	return func() { delete(shelters, c) }
}
