package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/store/postgres"
	"winterstand/internal/store/storetest"
)

func BenchmarkCell(b *testing.B) {
	s, err := postgres.Open(b.Context(), storetest.Database(b), postgres.Options{Migrate: true})
	require.NoError(b, err)
	defer s.Close()
	storetest.Bench(b, s.Store)
}
