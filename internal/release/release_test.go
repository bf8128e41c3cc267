package release

import (
	"runtime/debug"
	"testing"
)

func TestVersionOf(t *testing.T) {
	changed := &debug.BuildInfo{GoVersion: "go1.26", Main: debug.Module{Version: "(devel)"}, Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: "0123456789abcdef"}, {Key: "vcs.modified", Value: "true"}}}
	released := &debug.BuildInfo{GoVersion: "go1.26", Main: debug.Module{Version: "v1.2.3"}}
	for _, row := range []struct {
		info    *debug.BuildInfo
		stamped string
		want    string
	}{
		{changed, "", "of no release, revision 0123456789ab, changed since, built with go1.26"},
		{changed, "1.4.0", "1.4.0, revision 0123456789ab, changed since, built with go1.26"},
		{released, "", "v1.2.3, built with go1.26"},
	} {
		if got := versionOf(row.info, row.stamped); got != row.want {
			t.Errorf("got %q, want %q", got, row.want)
		}
	}
	if Number() == "" || Version() == "" {
		t.Error("no version")
	}
}
