package app

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/forecast/metno"
	"winterstand/internal/forecast/nws"
	"winterstand/internal/forecast/openmeteo"
	"winterstand/internal/settings"
)

// The adapters add their own paths: the defaults are the services' addresses.
func TestTheDefaultAddressesAreThoseOfTheServices(t *testing.T) {
	f := settings.Default().Forecast
	assert.Equal(t, nws.PublicURL, f.NWS.BaseURL)
	assert.Equal(t, metno.PublicURL, f.MetNo.BaseURL)
	assert.Equal(t, openmeteo.PublicURL, f.OpenMeteo.BaseURL)
}
