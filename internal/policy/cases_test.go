package policy_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gritward/internal/policy"
	"gritward/internal/strictyaml"
)

const casesDir = "../../testdata/policy"

// TestCases compares all that is said of each file in testdata/policy with what stands beside it.
func TestCases(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(casesDir, "*.yaml"))
	if err != nil || len(files) < 40 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	update := flag.Lookup("update").Value.(flag.Getter).Get().(bool)
	for _, file := range files {
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			p, problems := policy.Read(name, data)
			if busted := strings.HasPrefix(name, "busted_"); busted != (p == nil) {
				t.Errorf("a policy was made: %v; the name says %v", p != nil, !busted)
			}
			if good := strings.HasPrefix(name, "good_"); good != (len(problems) == 0) {
				t.Errorf("%d problems; the name says otherwise", len(problems))
			}
			got, wantFile := strictyaml.Format(problems), strings.TrimSuffix(file, ".yaml")+".want"
			if update {
				if err := os.WriteFile(wantFile, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(wantFile)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("problems (-want +got):\n%s", diff)
			}
			for _, problem := range problems {
				if problem.GetHint() == "" && problem.GetMessage() == "" || problem.GetFile() != name {
					t.Errorf("a problem without words or file: %v", problem)
				}
			}
		})
	}
}
