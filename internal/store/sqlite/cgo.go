//go:build !cgo

package sqlite

// The driver is C; without it the program would build and then fail at its first query.
var _ = the_embedded_database_needs_cgo__build_with_CGO_ENABLED_1_and_a_C_compiler
