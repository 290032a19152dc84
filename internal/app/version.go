package app

// Version of the program; a release build sets it with -ldflags -X.
var Version = "dev"
