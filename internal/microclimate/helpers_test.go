package microclimate

import "math"

// wave is a sine of period one.
func wave(x float64) float64 { return math.Sin(2 * math.Pi * x) }
