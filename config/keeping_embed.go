package config

import _ "embed"

// Keeping is the table of how long a harvest keeps, read by package keeping.
//
//go:embed keeping.toml
var Keeping []byte
