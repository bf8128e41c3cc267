package daemon

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"gritward/internal/settings"
)

// TestEveryFlagIsASetting: what serve can be told by a flag stands in its settings file as well, as the README says.
func TestEveryFlagIsASetting(t *testing.T) {
	seen := 0
	serveCommand().Flags().VisitAll(func(flag *pflag.Flag) {
		if slices.Contains([]string{"settings", "only-check"}, flag.Name) { // which file, and whether to begin at all
			return
		}
		seen++
		path := filepath.Join(t.TempDir(), "server.yaml")
		if err := os.WriteFile(path, []byte(strings.ReplaceAll(flag.Name, "-", "_")+": 5s\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := settings.LoadServer(settings.Source{File: path}); err != nil && strings.Contains(err.Error(), "is not known") {
			t.Errorf("--%s: %v", flag.Name, err)
		}
	})
	if seen < 40 {
		t.Errorf("%d flags of serve were looked at", seen)
	}
}
