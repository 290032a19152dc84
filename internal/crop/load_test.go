package crop

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDefaultCatalogueLoads(t *testing.T) {
	cat, err := Default()
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(cat.All()), 60)
}
