package cli_test

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"gritward/internal/cli"
)

// TestEveryCommand walks the tree: every command says in short what it does, shows an example that names it, and takes
// --json; every flag says what it is.
func TestEveryCommand(t *testing.T) {
	seen := 0
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		seen++
		path := cmd.CommandPath()
		if cmd.Short == "" || strings.HasSuffix(cmd.Short, ".") || len(cmd.Short) > 90 {
			t.Errorf("%s: short text %q", path, cmd.Short)
		}
		if !strings.Contains(cmd.Example, path) {
			t.Errorf("%s: no example of it in %q", path, cmd.Example)
		}
		if cmd.Flag("json") == nil && cmd.InheritedFlags().Lookup("json") == nil {
			t.Errorf("%s: does not take --json", path)
		}
		for _, line := range strings.Split(cmd.Long, "\n") {
			if len(line) > 120 {
				t.Errorf("%s: a line of %d characters", path, len(line))
			}
		}
		checkExamples(t, cmd)
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(cli.Root())
	if seen < 50 {
		t.Errorf("only %d commands", seen)
	}
}

// checkExamples reads the flags of every example as the command would.
func checkExamples(t *testing.T, cmd *cobra.Command) {
	t.Helper()
	for line := range strings.Lines(strings.ReplaceAll(cmd.Example, "\\\n", " ")) {
		words := strings.Fields(line)
		for _, word := range words[1:] {
			name, isFlag := strings.CutPrefix(word, "--")
			if !isFlag {
				continue
			}
			name, _, _ = strings.Cut(name, "=")
			target, _, err := cli.Root().Find(words[1:])
			if err != nil {
				t.Errorf("%s: %v", strings.TrimSpace(line), err)
				continue
			}
			if target.Flag(name) == nil && target.InheritedFlags().Lookup(name) == nil {
				t.Errorf("%s: there is no flag --%s", strings.TrimSpace(line), name)
			}
		}
	}
}

// TestNames holds the names that users and scripts rely on.
func TestNames(t *testing.T) {
	for _, path := range []string{"accept", "whoami", "bike example", "bike declare", "bike list", "bike show",
		"bike history", "bike standing", "bike lift", "care record", "care list", "care due", "bike again", "bike retire", "policy check", "policy adopt", "policy show",
		"policy history", "policy preview", "policy compare", "policy restore", "ride create", "ride list", "ride show", "ride change", "ride plan", "ride gpx", "ride join",
		"ride withdraw", "ride signups", "ride place", "ride pin", "ride unpin", "ride why", "ride publish", "ride roster", "ride brief", "ride mark", "ride call-off",
		"member list", "member show", "member change", "member invite", "member device list", "member device revoke", "audit",
		"route", "sun", "outlook"} {
		found, rest, err := cli.Root().Find(strings.Fields(path))
		if err != nil || len(rest) > 0 || found.CommandPath() != "gritward "+path {
			t.Errorf("%s: %v, %v", path, rest, err)
		}
	}
}
