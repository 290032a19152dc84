package book

import "slices"

// Bulk writes always lock rows in the same order, so that two of them never
// wait for each other in a circle, and never name a row twice, which PostgreSQL
// refuses in one statement.

// firsts are in order; of those that are the same the first counts.
func firsts[T any](list []T, order func(a, b T) int) []T {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, order)
	return slices.CompactFunc(sorted, func(a, b T) bool { return order(a, b) == 0 })
}

// lasts are in order; of those that are the same the last counts.
func lasts[T any](list []T, order func(a, b T) int) []T {
	back := slices.Clone(list)
	slices.Reverse(back)
	return firsts(back, order)
}
