package app

import (
	"fmt"
	"log/slog"
	"time"

	"winterstand/internal/forecast"
	"winterstand/internal/forecast/metno"
	"winterstand/internal/forecast/nws"
	"winterstand/internal/forecast/openmeteo"
	"winterstand/internal/settings"
)

// sources are the forecast services of the settings, in their order.
func sources(s settings.Forecast, now func() time.Time, log *slog.Logger) ([]forecast.Source, error) {
	var out []forecast.Source
	for _, name := range s.Sources {
		src, err := source(name, s, now)
		if err != nil {
			return nil, err
		}
		out = append(out, src)
		log.Info("forecast source", "name", name)
	}
	return out, nil
}

func source(name string, s settings.Forecast, now func() time.Time) (forecast.Source, error) {
	contact := map[string]string{"nws": s.NWS.Contact, "metno": s.MetNo.Contact, "openmeteo": s.OpenMeteo.Contact}[name]
	client, err := forecast.NewClient(forecast.Options{Program: "winterstand/" + Version, Contact: contact, Now: now})
	if err != nil {
		return nil, fmt.Errorf("forecast source %s: %w", name, err)
	}
	switch name {
	case "nws":
		return nws.New(client, nws.Options{BaseURL: s.NWS.BaseURL})
	case "metno":
		return metno.New(client, metno.Options{BaseURL: s.MetNo.BaseURL})
	case "openmeteo":
		o := s.OpenMeteo
		return openmeteo.New(client, openmeteo.Options{BaseURL: o.BaseURL, EnsembleBaseURL: o.EnsembleURL, EnsembleModels: o.Ensembles, APIKey: o.APIKey})
	}
	return nil, fmt.Errorf("forecast source %q is not known", name)
}
