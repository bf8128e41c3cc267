package daemon_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestInviteOfNoClub: a club that is not in the store looked at, as when --data was forgotten, is told with that store.
func TestInviteOfNoClub(t *testing.T) {
	data := filepath.Join(t.TempDir(), "club.db")
	code, _, errOut := run(t, "invite", "fenwick", "--data", data, "--secretary", "Ida Rook")
	if code != 1 || !strings.Contains(errOut, `there is no club "fenwick" in the store `+data) || !strings.Contains(errOut, "--data") {
		t.Errorf("exit %d: %s", code, errOut)
	}
	if _, err := os.Stat(data); !os.IsNotExist(err) {
		t.Errorf("a store is left behind: %v", err)
	}
}
