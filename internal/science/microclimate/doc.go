// Package microclimate is the bed's own climate: from an hour of weather over
// open ground to the temperature of leaf, crown, shoulder and root.
//
// Everything is a pure function of values: no clock, no input or output, no
// randomness. Inside, temperatures are plain float64 in °C, lengths in metres,
// fluxes in W/m²; at the borders they are unit.Celsius and unit.Kelvins.
package microclimate
