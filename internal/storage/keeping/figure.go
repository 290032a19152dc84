package keeping

import "winterstand/internal/crop"

// evidence is one figure with the key of its source.
type evidence struct {
	name   string
	value  float64
	unit   string
	source string
	note   string
}

func (e *Entry) evidence() []evidence {
	b := e.Best
	out := []evidence{
		{"best_temperature_low", b.LowC, "°C", b.Source, b.Note},
		{"best_temperature_high", b.HighC, "°C", b.Source, b.Note},
		{"best_humidity_low", b.HumidityLow, "fraction", b.Source, b.Note},
		{"best_humidity_high", b.HumidityHigh, "fraction", b.Source, b.Note},
	}
	life := func(name string, l *LifeAt) {
		if l != nil {
			out = append(out, evidence{name + "_low_at_" + degrees(l.AtC), l.LowD, "days", l.Source, l.Note},
				evidence{name + "_high_at_" + degrees(l.AtC), l.HighD, "days", l.Source, l.Note})
		}
	}
	for i := range e.Life {
		life("life", &e.Life[i])
	}
	life("ripening", e.Ripening)
	life("frozen", e.Freezer)
	if f := e.Freezing; f != nil {
		out = append(out, evidence{"highest_freezing_point", f.ValueC, "°C", f.Source, f.Note})
	}
	if t := e.Transpiration; t != nil {
		out = append(out, evidence{"transpiration", t.Kt, "ng/(kg·s·Pa)", t.Source, t.Note})
	}
	if w := e.WaterLimit; w != nil {
		out = append(out, evidence{"water_limit", w.Percent, "% of mass", w.Source, w.Note})
	}
	if c := e.Chill; c != nil {
		out = append(out, evidence{"chilling_below", c.BelowC, "°C", c.Source, c.Note})
	}
	if c := e.Cure; c != nil {
		out = append(out, evidence{"curing", c.Days, "days", c.Source, c.Note})
	}
	if r := e.Respiration; r != nil {
		for i := range r.AtC {
			out = append(out, evidence{"respiration_at_" + degrees(r.AtC[i]), r.Mg[i], "mg CO₂/(kg·h)", r.Source, r.Note})
		}
	}
	return out
}

// Figures lists every number of the entry with its evidence, for the catalogue.
func (e *Entry) Figures() []crop.Figure {
	var out []crop.Figure
	for _, f := range e.evidence() {
		s := e.sources[f.source]
		basis := crop.NoBasis
		if f.name == "highest_freezing_point" {
			basis = crop.Tissue
		}
		out = append(out, crop.Figure{
			Name: f.name, Value: f.value, Unit: f.unit, Basis: basis,
			Mark: s.Mark, Source: s.Text, Confidence: s.Confidence, Note: f.note,
		})
	}
	return out
}
