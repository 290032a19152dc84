package app

import (
	"fmt"

	"winterstand/internal/forecast"
	"winterstand/internal/outside/forecast/fetch"
	"winterstand/internal/outside/forecast/metno"
	"winterstand/internal/outside/forecast/nws"
	"winterstand/internal/outside/forecast/openmeteo"
	"winterstand/internal/outside/settings"
)

// sources are the forecast services of the settings, in their order.
func sources(s settings.Forecast, o Options) ([]forecast.Source, error) {
	var out []forecast.Source
	for _, name := range s.Sources {
		src, err := source(name, s, o)
		if err != nil {
			return nil, err
		}
		out = append(out, src)
		o.Log.Info("forecast source", "name", name)
	}
	return out, nil
}

func source(name string, s settings.Forecast, o Options) (forecast.Source, error) {
	contact := map[string]string{"nws": s.NWS.Contact, "metno": s.MetNo.Contact, "openmeteo": s.OpenMeteo.Contact}[name]
	client, err := fetch.NewClient(fetch.Options{Program: "winterstand/" + Version, Contact: contact, Now: o.Now, Sleep: o.Sleep})
	if err != nil {
		return nil, fmt.Errorf("forecast source %s: %w", name, err)
	}
	switch name {
	case "nws":
		return nws.New(client, nws.Options{BaseURL: s.NWS.BaseURL})
	case "metno":
		return metno.New(client, metno.Options{BaseURL: s.MetNo.BaseURL})
	case "openmeteo":
		m := s.OpenMeteo
		return openmeteo.New(client, openmeteo.Options{BaseURL: m.BaseURL, EnsembleBaseURL: m.EnsembleURL, EnsembleModels: m.Ensembles, APIKey: m.APIKey})
	}
	return nil, fmt.Errorf("forecast source %q is not known", name)
}
