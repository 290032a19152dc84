package farm

// Gap is one thing without which a bed cannot be judged, as a value: the phrase
// "missing." + What says it.
type Gap struct {
	What  GapKind `json:"what"`
	Hours int     `json:"hours,omitempty"` // a layer: that lack it; the end: after which the forecast ends
	Of    int     `json:"of,omitempty"`    // a layer: of how many coming hours
	Name  string  `json:"name,omitempty"`  // the crop, or the layer as its source names it
	Why   string  `json:"why,omitempty"`   // a refused layer: a weather.Doubt
	Says  string  `json:"says,omitempty"`  // a refused layer: what its source wrote
}

// GapKind is what is missing.
type GapKind string

// Kinds of gap.
const (
	GapForecast GapKind = "forecast"  // none has come in
	GapEnd      GapKind = "end"       // enough hours to come
	GapAir      GapKind = "air"       // layers of the forecast
	GapDewPoint GapKind = "dew_point" //
	GapWind     GapKind = "wind"      //
	GapCloud    GapKind = "cloud"     //
	GapRefused  GapKind = "refused"   // a layer that could not be trusted
	GapCrop     GapKind = "crop"      // the crop's entry in the catalogue
	GapModel    GapKind = "model"     // the bed could not be computed; the log says why
	GapSaid     GapKind = "said"      // Says it all, in the words of before gaps had kinds
)

// GapKinds lists every kind.
func GapKinds() []GapKind {
	return []GapKind{GapForecast, GapEnd, GapAir, GapDewPoint, GapWind, GapCloud, GapRefused, GapCrop, GapModel, GapSaid}
}
