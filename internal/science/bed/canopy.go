package bed

import (
	"winterstand/internal/crop"
	"winterstand/internal/science/microclimate"
)

// Foliage is what a standing crop itself spreads over its ground. A bare bed
// loses its heat to the whole sky; between leaves the ground sees mostly leaves,
// the wind is slowed, and the old tops of a root lie matted over its shoulder.
// Without it a single half-clouded night of 15 °F would freeze the top 2.5 cm of
// a loam to -3.5 °C and every carrot in it, against all practice.
type Foliage struct {
	Surface microclimate.Surface `json:"surface"`
	TopsCm  float64              `json:"tops_cm,omitzero"` // as straw laid
}

// FoliageOf a crop: bulbs stand in bare ground, their leaves thin or died down;
// everything else shades it.
func FoliageOf(c crop.Crop) Foliage {
	if c.Organ == crop.Bulb {
		return Foliage{Surface: microclimate.Bare}
	}
	return Foliage{Surface: microclimate.Stand, TopsCm: c.TopsCm}
}

// Over puts the foliage under whatever else lies on the bed. Matted leaves hold
// heat as damp straw does (microclimate.Dressing).
func (f Foliage) Over(on microclimate.Dressing) microclimate.Dressing {
	on.Surface = f.Surface
	on.MulchCm += f.TopsCm
	return on
}

// Growing is the class with a crop standing on it.
func (c Class) Growing(crop crop.Crop) Class {
	c.Foliage = FoliageOf(crop)
	return c
}
