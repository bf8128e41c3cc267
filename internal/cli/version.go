package cli

import "runtime/debug"

// version tells which build of the client this is: its release, and the revision of the source where the build kept it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "of an unknown build"
	}
	return versionOf(info)
}

func versionOf(info *debug.BuildInfo) string {
	text := info.Main.Version
	if text == "" || text == "(devel)" {
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
