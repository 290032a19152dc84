package app

import "runtime/debug"

// Version of the program: a release build sets it with -ldflags -X; any other is
// called after the commit that it was built from.
var Version string

func init() {
	if Version == "" {
		Version = fromBuild(debug.ReadBuildInfo())
	}
}

// fromBuild is "dev", with the commit where the build knows one and a plus where
// files had been changed since.
func fromBuild(info *debug.BuildInfo, ok bool) string {
	version := "dev"
	if !ok {
		return version
	}
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && len(s.Value) >= 7:
			version += "-" + s.Value[:7]
		case s.Key == "vcs.modified" && s.Value == "true":
			version += "+"
		}
	}
	return version
}
