package policy_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain adds -update, which writes the expected messages of TestCases anew.
func TestMain(m *testing.M) {
	flag.Bool("update", false, "write testdata/policy/*.want anew")
	flag.Parse()
	os.Exit(m.Run())
}
