package sqlite

import "testing"

// UseDriver opens databases through another driver until the test ends.
func UseDriver(t *testing.T, name string) {
	usual := driver
	driver = name
	t.Cleanup(func() { driver = usual })
}
