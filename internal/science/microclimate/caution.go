package microclimate

// Caution is a warning for people's safety that belongs to a cover whatever the
// weather does. Phrase "caution." + key is its sentence.
type Caution string

// Cautions of covers.
const (
	SnowLoad  Caution = "snow_load"  // a roof that snow can lie on and bring down
	ClosedAir Caution = "closed_air" // people go in, and may heat it
)

// Cautions lists every one that a cover may declare.
func Cautions() []Caution { return []Caution{SnowLoad, ClosedAir} }
