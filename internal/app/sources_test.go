package app

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"winterstand/internal/outside/forecast/metno"
	"winterstand/internal/outside/forecast/nws"
	"winterstand/internal/outside/forecast/openmeteo"
	"winterstand/internal/outside/settings"
)

// The adapters add their own paths: the defaults are the services' addresses.
func TestTheDefaultAddressesAreThoseOfTheServices(t *testing.T) {
	f := settings.Default().Forecast
	assert.Equal(t, nws.PublicURL, f.NWS.BaseURL)
	assert.Equal(t, metno.PublicURL, f.MetNo.BaseURL)
	assert.Equal(t, openmeteo.PublicURL, f.OpenMeteo.BaseURL)
}
