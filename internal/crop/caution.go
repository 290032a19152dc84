package crop

// Caution is a warning for people's safety that belongs to a crop whatever the
// weather does. Phrase "caution." + key is its sentence.
type Caution string

// Canning: fruit of dead or frost-killed vines may not be acid enough to be
// canned safely (USDA, National Center for Home Food Preservation).
const Canning Caution = "canning"

// Cautions lists every one that an entry may declare.
func Cautions() []Caution { return []Caution{Canning} }
