// Package release tells which build of the programs this is.
package release

import (
	"runtime/debug"
	"sync"
)

// stamped is the release, written in by the linker when a package is built: -ldflags "-X gritward/internal/release.stamped=1.2.0".
var stamped string

// Number is the release alone: 1.2.0, or "none". Every answer tells it, so it is found once.
var Number = sync.OnceValue(func() string {
	if stamped != "" {
		return stamped
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "none"
})

// Version tells release, revision of the source where the build kept it, and what it was built with.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "of an unknown build"
	}
	return versionOf(info, stamped)
}

func versionOf(info *debug.BuildInfo, stamped string) string {
	text := info.Main.Version
	switch {
	case stamped != "":
		text = stamped
	case text == "" || text == "(devel)":
		text = "of no release"
	}
	set := map[string]string{}
	for _, setting := range info.Settings {
		set[setting.Key] = setting.Value
	}
	if revision := set["vcs.revision"]; revision != "" {
		text += ", revision " + revision[:min(len(revision), 12)]
		if set["vcs.modified"] == "true" {
			text += ", changed since"
		}
	}
	return text + ", built with " + info.GoVersion
}
