// Package internal_test holds the import table of the house: which package may lean on which.
package internal_test

import (
	"bufio"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// mayImport is the import table. A package that is not in it, or that imports another one of this module that is not in
// its row, fails the test. Calculators know no protocol, no store, no clock.
var mayImport = map[string][]string{
	"proto/gritward/v1": {},
	"policy":            {},

	// Calculators.
	"internal/sun":                     {},
	"internal/weather":                 {},
	"internal/placement":               {},
	"internal/placement/proof":         {"internal/placement"},
	"internal/placement/milp":          {},
	"internal/placement/placementtest": {"internal/placement"},
	"internal/wear":                    {},
	"internal/route":                   {},
	"internal/pace":                    {"internal/route"},
	"internal/forecast":                {"internal/weather"},
	"internal/daylight":                {"internal/sun", "internal/pace"},

	// Words and their errors.
	"internal/fault":      {"proto/gritward/v1"},
	"internal/names":      {"internal/fault"},
	"internal/lookalike":  {},
	"internal/trail":      {},
	"internal/release":    {},
	"internal/tracing":    {"internal/trail"},
	"internal/vitals":     {},
	"internal/lull":       {},
	"internal/headstart":  {},
	"internal/civil":      {"internal/fault", "proto/gritward/v1"},
	"internal/strictyaml": {"proto/gritward/v1"},

	// The flow.
	"internal/expression":              {"proto/gritward/v1"},
	"internal/readiness":               {"internal/expression", "internal/phrase", "proto/gritward/v1"},
	"internal/readiness/readinesstest": {"internal/readiness", "internal/policy", "internal/strictyaml", "policy", "proto/gritward/v1"},
	"internal/policy":                  {"internal/expression", "internal/phrase", "internal/readiness", "internal/strictyaml", "proto/gritward/v1"},
	"internal/care":                    {"internal/wear", "internal/readiness", "proto/gritward/v1"},
	"internal/phrase":                  {"proto/gritward/v1"},
	"internal/waypoint":                {"internal/route", "internal/phrase", "proto/gritward/v1"},
	"internal/brief":                   {"internal/phrase", "proto/gritward/v1"},
	"internal/rollcall":                {"internal/phrase", "proto/gritward/v1"},
	"internal/season":                  {"proto/gritward/v1"},
	"internal/roster": {
		"internal/sun", "internal/weather", "internal/forecast", "internal/placement", "internal/placement/proof", "internal/route", "internal/pace", "internal/daylight",
		"internal/readiness", "internal/policy", "internal/brief", "internal/rollcall", "internal/names", "internal/phrase", "internal/civil", "internal/fault",
		"proto/gritward/v1",
	},
	"internal/render":            {"internal/phrase", "proto/gritward/v1"},
	"internal/render/rostertest": {"proto/gritward/v1"},

	// The edges.
	"internal/forecast/endpoint":   {"internal/forecast"},
	"internal/store":               {},
	"internal/store/bolt":          {"internal/store", "proto/gritward/v1"},
	"internal/store/etcd":          {"internal/store", "proto/gritward/v1"},
	"internal/store/etcd/etcdtest": {},
	"internal/store/enginetest":    {"internal/store", "internal/store/bolt", "internal/store/etcd", "internal/store/etcd/etcdtest"},
	"internal/store/storetest":     {"internal/store"},
	"internal/seal":                {},
	"internal/ledger":              {"internal/store", "internal/seal", "internal/lookalike", "internal/fault", "internal/names", "proto/gritward/v1"},
	"internal/server": {
		"internal/ledger", "internal/phrase", "internal/seal", "internal/roster", "internal/rollcall", "internal/season", "internal/policy", "internal/readiness", "internal/care", "internal/render", "internal/post", "internal/forecast/endpoint",
		"internal/names", "internal/wholefile", "internal/lookalike", "internal/civil", "internal/fault", "internal/trail", "internal/release", "internal/store", "proto/gritward/v1",
	},
	"internal/web":           {"internal/trail", "internal/waypoint", "internal/render", "internal/rollcall", "internal/phrase", "internal/names", "internal/civil", "internal/fault", "policy", "proto/gritward/v1"},
	"internal/post":          {},
	"internal/post/posttest": {},
	"internal/wholefile":     {},
	"internal/transport":     {"internal/wholefile"},
	"internal/settings":      {"internal/forecast/endpoint", "internal/transport", "internal/wholefile"},
	"internal/dial":          {"proto/gritward/v1"},
	"internal/dial/dialtest": {},
	"internal/cli": {
		"internal/dial", "internal/render", "internal/rollcall", "internal/phrase", "internal/wholefile", "internal/settings", "internal/transport", "internal/names", "internal/civil", "internal/fault", "internal/release", "proto/gritward/v1",
		// For the commands that need no server.
		"internal/waypoint", "internal/route", "internal/pace", "internal/sun", "internal/daylight", "internal/policy", "internal/strictyaml", "policy",
	},
	"internal/demo": {"internal/ledger", "internal/server", "internal/names", "policy", "proto/gritward/v1"},
	"internal/daemon": {
		"internal/server", "internal/ledger", "internal/seal", "internal/store", "internal/store/bolt", "internal/store/etcd", "internal/settings", "internal/wholefile", "internal/transport", "internal/forecast/endpoint", "internal/post", "internal/demo", "internal/render", "internal/web",
		"internal/names", "internal/civil", "internal/fault", "internal/trail", "internal/release", "internal/tracing", "internal/vitals", "internal/lull", "internal/headstart", "internal/policy", "proto/gritward/v1",
	},
	"internal/bench":         {}, // benchmarks alone
	"internal/bench/minimal": {},
	"internal/protogen":      {},
	"internal/manual":        {"internal/cli", "internal/daemon", "internal/release"},
	"internal/policyschema":  {"internal/policy"},
	"cmd/gritward":           {"internal/cli"},
	"cmd/gritwardd":          {"internal/daemon"},
}

func TestImportTable(t *testing.T) {
	command := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "gritward/...")
	command.Stderr = os.Stderr
	listed, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	lines := bufio.NewScanner(strings.NewReader(string(listed)))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		words := strings.Fields(lines.Text())
		name := strings.TrimPrefix(words[0], "gritward/")
		if name == "internal" {
			continue // this test
		}
		allowed, ok := mayImport[name]
		if !ok {
			t.Errorf("%s is not in the import table: add it with what it may import, and to DEVELOPERS.md", name)
			continue
		}
		seen[name] = true
		for _, path := range words[1:] {
			if other, ours := strings.CutPrefix(path, "gritward/"); ours && !slices.Contains(allowed, other) {
				t.Errorf("%s imports %s, which its row of the import table does not have", name, other)
			}
		}
	}
	guide, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	for name := range mayImport {
		if !seen[name] {
			t.Errorf("%s is in the import table but not in the module", name)
		}
		if base := name[strings.LastIndex(name, "/")+1:]; !strings.Contains(string(guide), "`"+name+"`") && !strings.Contains(string(guide), "`"+base+"`") {
			t.Errorf("DEVELOPERS.md does not say what %s is", name)
		}
	}
}

// TestTopLevel holds the top level to what it was fixed to, and lets stand what the README has one build and found there.
func TestTopLevel(t *testing.T) {
	allowed := []string{"proto", "cmd", "internal", "policy", "testdata", "README.md", "DEVELOPERS.md", "go.mod", "go.sum", "LICENSE",
		"gritward", "gritwardd"}
	entries, err := os.ReadDir("..")
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		if name := entry.Name(); !strings.HasPrefix(name, ".") && !strings.HasPrefix(name, "club.db") && !slices.Contains(allowed, name) {
			t.Errorf("%s does not belong at the top level", entry.Name())
		}
	}
}

// TestNamedTests holds DEVELOPERS.md: every test that it names as showing something is there.
func TestNamedTests(t *testing.T) {
	guide, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	err = filepath.WalkDir(".", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		content, err := os.ReadFile(path)
		for _, found := range regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`).FindAllSubmatch(content, -1) {
			there[string(found[1])] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`((?:Test|Fuzz)\\w+)`").FindAllSubmatch(guide, -1)
	if len(named) < 20 {
		t.Errorf("only %d tests are named", len(named))
	}
	for _, name := range named {
		if !there[string(name[1])] {
			t.Errorf("DEVELOPERS.md names %s, which is not there", name[1])
		}
	}
}
