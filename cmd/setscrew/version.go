package main

import "runtime/debug"

// stamped is the version that a build puts in (-ldflags "-X main.stamped=v1.2"); "" where
// none does.
var stamped string

// version is the version of this program.
func version() string {
	if stamped != "" {
		return stamped
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		return info.Main.Version
	}
	return "(unknown)"
}
