// Package config holds the files the program carries inside itself: plain
// bytes, read by the packages they belong to.
package config

import _ "embed"

// Crops is the crop catalogue, read by package crop.
//
//go:embed crops.toml
var Crops []byte
