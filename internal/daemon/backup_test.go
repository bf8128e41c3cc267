package daemon_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/daemon"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// storedFile unpacks a stored file of a schema number, with a record of every kind in it, into a folder of its own.
func storedFile(t testing.TB, number int) string {
	t.Helper()
	packed, err := os.Open(fmt.Sprintf("../store/bolt/testdata/schema-%d.db.gz", number))
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	from, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(from)
	path := filepath.Join(t.TempDir(), "club.db")
	if err := errors.Join(err, os.WriteFile(path, data, 0o600)); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestVerifyStored: the stored files of every schema number are sound; looking at one leaves it as it is.
func TestVerifyStored(t *testing.T) {
	for number := 1; number <= bolt.Schema; number++ {
		path := storedFile(t, number)
		before, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		code, out, errOut := run(t, "verify", "--data", path)
		if code != 0 || !strings.Contains(out, "Pages and records are sound.\nelsewhere: unbroken") || !strings.Contains(out, "\nfenwick: unbroken, entries 1 to 5") {
			t.Errorf("schema %d: exit %d: %s%s", number, code, out, errOut)
		}
		if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
			t.Errorf("schema %d: looking changed it: %v", number, err)
		}
	}
}

// backedUp takes a backup of a stored file.
func backedUp(t *testing.T) (path string, data []byte) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "club.backup")
	if code, out, errOut := run(t, "backup", path, "--data", storedFile(t, bolt.Schema)); code != 0 {
		t.Fatalf("exit %d: %s%s", code, out, errOut)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return path, data
}

// TestOldBackup: a store with an older schema number is backed up as it is, so that an older program can have it back.
func TestOldBackup(t *testing.T) {
	data := storedFile(t, 1)
	path := filepath.Join(t.TempDir(), "club.backup")
	if code, _, errOut := run(t, "backup", path, "--data", data); code != 0 {
		t.Fatal(errOut)
	}
	to := filepath.Join(t.TempDir(), "club.db")
	code, out, errOut := run(t, "restore", path, "--data", to)
	if code != 0 {
		t.Fatal(errOut)
	}
	for _, want := range []string{"verified.\n", "There is no list of the erased", "Emergency contacts cannot be read yet", "Put the key file of that time back"} {
		if !strings.Contains(out, want) {
			t.Errorf("not said: %q\n%s", want, out)
		}
	}
	was, err := os.ReadFile(data)
	is, err2 := os.ReadFile(to)
	const metas = 2 * 4096 // a backup has the newer of the two first pages twice
	if err := errors.Join(err, err2); err != nil || len(is) < 100_000 || !bytes.Equal(was[metas:len(is)], is[metas:]) {
		t.Errorf("%d bytes became %d others, %v", len(was), len(is), err)
	}
	if info, err := os.Stat(to); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
}

// TestRestoreDamaged: whatever bytes of a backup are changed, or cut off, it is not restored, and nothing is left behind.
func TestRestoreDamaged(t *testing.T) {
	path, good := backedUp(t)
	folder := t.TempDir()
	data := filepath.Join(folder, "club.db")
	rapid.Check(t, func(t *rapid.T) {
		bad := bytes.Clone(good)
		if rapid.Bool().Draw(t, "cut") {
			bad = bad[:rapid.IntRange(0, len(bad)-1).Draw(t, "at")]
		} else {
			bad[rapid.IntRange(0, len(bad)-1).Draw(t, "at")] ^= byte(rapid.IntRange(1, 255).Draw(t, "with"))
		}
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		var out, errOut bytes.Buffer
		if code := daemon.Main(t.Context(), []string{"restore", path, "--data", data}, &out, &errOut); code != 1 || out.Len() > 0 || !strings.Contains(errOut.String(), "nothing was changed") {
			t.Errorf("exit %d: %s%s", code, out.String(), errOut.String())
		}
		if left, err := os.ReadDir(folder); err != nil || len(left) > 0 {
			t.Errorf("left: %v, %v", left, err)
		}
	})
}

// TestVerifyDamaged: whatever bytes of a store are changed, looking at it comes to an end, with an answer for people.
func TestVerifyDamaged(t *testing.T) {
	path := storedFile(t, bolt.Schema)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	wrong := 0
	rapid.Check(t, func(t *rapid.T) {
		bad := bytes.Clone(good)
		for range rapid.IntRange(1, 3).Draw(t, "times") {
			from := rapid.IntRange(0, len(bad)-1).Draw(t, "at")
			for i := range rapid.SampledFrom([]int{1, 8, 512, 4096}).Draw(t, "bytes") {
				if from+i < len(bad) {
					bad[from+i] ^= 0x5a
				}
			}
		}
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		var out, errOut bytes.Buffer
		code := daemon.Main(t.Context(), []string{"verify", "--data", path}, &out, &errOut)
		if sound := strings.Contains(out.String(), "are sound."); code > 1 || code == 0 && !sound || code == 1 && errOut.Len() == 0 {
			t.Errorf("exit %d: %s%s", code, out.String(), errOut.String())
		}
		if code == 1 {
			wrong++
		}
	})
	if wrong == 0 {
		t.Error("nothing was ever found: this test shows little")
	}
}

// TestRestoreUnsound: a backup in which a record leads nowhere is restored only when that is asked for.
func TestRestoreUnsound(t *testing.T) {
	data := storedFile(t, bolt.Schema)
	opened, err := bolt.Open(bolt.Options{Path: data, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	err = opened.Update(t.Context(), "fenwick", func(tx store.Tx) error { return tx.Put("route/no-such-ride", nil) })
	if err := errors.Join(err, opened.Close()); err != nil {
		t.Fatal(err)
	}
	path, to := filepath.Join(t.TempDir(), "club.backup"), filepath.Join(t.TempDir(), "club.db")
	if code, _, errOut := run(t, "backup", path, "--data", data); code != 0 {
		t.Fatal(errOut)
	}
	const finding = "fenwick: route/no-such-ride lies below ride/no-such-ride, which is not there"
	code, out, errOut := run(t, "verify", "--data", path)
	if code != 1 || !strings.Contains(out, "WRONG: "+finding) || !strings.Contains(errOut, "is not sound: keep it, and take another backup") {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
	if code, out, errOut := run(t, "verify", "--data", path, "--json"); code != 1 || !strings.Contains(out, `"sound":false,"findings":[{"club":"fenwick","record":"route/no-such-ride","what":"lies below`) {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
	if code, _, errOut = run(t, "restore", path, "--data", to); code != 1 || !strings.Contains(errOut, finding) {
		t.Errorf("exit %d: %s", code, errOut)
	}
	if _, err := os.Stat(to); err == nil {
		t.Error("it was restored")
	}
	if code, out, errOut = run(t, "restore", path, "--data", to, "--despite-findings"); code != 0 || !strings.Contains(out, finding) {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
}

// TestNotBackedUp: a store that is damaged is not backed up, and what there is stays.
func TestNotBackedUp(t *testing.T) {
	data := storedFile(t, bolt.Schema)
	bad, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	for page := 2; page < 60; page++ { // pages in use among them
		bad[page*4096+8] ^= 0xff
	}
	path := filepath.Join(t.TempDir(), "club.backup")
	if err := errors.Join(os.WriteFile(data, bad, 0o600), os.WriteFile(path, []byte("of yesterday"), 0o600)); err != nil {
		t.Fatal(err)
	}
	if code, out, errOut := run(t, "backup", path, "--data", data, "--overwrite"); code != 1 {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
	if got, err := os.ReadFile(path); string(got) != "of yesterday" {
		t.Errorf("%.40q, %v", got, err)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 1 {
		t.Errorf("left: %v, %v", left, err)
	}
}

// TestBackupOverOther: a backup takes the place of nothing that a server needs, whatever it is asked to write over.
func TestBackupOverOther(t *testing.T) {
	data := storedFile(t, bolt.Schema)
	keys := filepath.Join(t.TempDir(), "contacts.key")
	for path, what := range map[string]string{data: "the store itself", keys: "the key file", data + ".erased": "the list of the erased"} {
		if path != data {
			if err := os.WriteFile(path, []byte("as it was"), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		before, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		code, out, errOut := run(t, "backup", path, "--data", data, "--key-file", keys, "--overwrite")
		if code != 2 || !strings.Contains(errOut, what) {
			t.Errorf("over %s: exit %d: %s%s", what, code, out, errOut)
		}
		if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
			t.Errorf("%s was changed: %v", what, err)
		}
	}
}

// TestOperatorSocket: it is there for its owner alone, takes the place of one that a killed server left, gives one backup at a time,
// goes on after one that was broken off, and is gone with the server.
func TestOperatorSocket(t *testing.T) {
	data := storedFile(t, bolt.Schema)
	opened, err := bolt.Open(bolt.Options{Path: data, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	left, err := net.ListenUnix("unix", &net.UnixAddr{Name: data + ".operator"})
	if err != nil {
		t.Fatal(err)
	}
	left.SetUnlinkOnClose(false)
	_ = left.Close()
	stop := daemon.ServeOperator(t, data, opened)
	if info, err := os.Stat(data + ".operator"); err != nil || info.Mode() != os.ModeSocket|0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	held, let := make(chan struct{}), make(chan struct{})
	first := make(chan error)
	go func() {
		first <- daemon.AskOperator(t.Context(), data, writing(func(p []byte) (int, error) {
			select {
			case <-held:
			default:
				close(held)
				<-let
			}
			return len(p), nil
		}))
	}()
	<-held
	if err := daemon.AskOperator(t.Context(), data, io.Discard); err == nil || !strings.Contains(err.Error(), "another backup is being taken") {
		t.Errorf("two at a time: %v", err)
	}
	close(let)
	if err := <-first; err != nil {
		t.Error(err)
	}
	gone := errors.New("the disk is full")
	if err := daemon.AskOperator(t.Context(), data, writing(func([]byte) (int, error) { return 0, gone })); !errors.Is(err, gone) {
		t.Error(err)
	}
	if err := opened.Update(t.Context(), "fenwick", func(tx store.Tx) error { return tx.Put("x", nil) }); err != nil {
		t.Error(err)
	}
	stop()
	if err := opened.Close(); err != nil { // waits for a backup that is still being broken off
		t.Error(err)
	}
	if err := daemon.AskOperator(t.Context(), data, io.Discard); !errors.Is(err, daemon.ErrNoServer) {
		t.Error(err)
	}
	if _, err := os.Stat(data + ".operator"); err == nil {
		t.Error("the socket is there still")
	}
}

type writing func([]byte) (int, error)

// Write implements io.Writer.
func (w writing) Write(p []byte) (int, error) { return w(p) }

// TestOperatorFarAway: a path that is too long for a socket is told, and reached by a shorter way where there is one.
func TestOperatorFarAway(t *testing.T) {
	far := filepath.Join(t.TempDir(), strings.Repeat("d", 100))
	data := filepath.Join(far, "club.db")
	if err := errors.Join(os.Mkdir(far, 0o700), os.WriteFile(data, nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	if _, err := daemon.OperatorSocket(data); err == nil || !strings.Contains(err.Error(), "keep the store in a folder with a shorter path") {
		t.Error(err)
	}
	t.Chdir(far)
	if path, err := daemon.OperatorSocket(data); err != nil || path != "club.db.operator" {
		t.Errorf("%q, %v", path, err)
	}
}

// TestBesideJournal: of a store whose server was killed, what stands in the journal is verified and backed up, too; nothing is restored
// beside the journal of a store that is gone.
func TestBesideJournal(t *testing.T) {
	data := storedFile(t, bolt.Schema)
	opened, err := bolt.Open(bolt.Options{Path: data, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	clubs, err := opened.Clubs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	const key = "request/nobody/stands-in-the-journal"
	if err := opened.Update(t.Context(), clubs[0], func(tx store.Tx) error { return tx.Put(key, []byte{}) }); err != nil {
		t.Fatal(err)
	}
	left := filepath.Join(t.TempDir(), "club.db")
	for from, to := range map[string]string{data: left, bolt.JournalOf(data): bolt.JournalOf(left)} {
		bytes, err := os.ReadFile(from)
		if err := errors.Join(err, os.WriteFile(to, bytes, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	if err := opened.Close(); err != nil {
		t.Fatal(err)
	}
	if code, out, errOut := run(t, "verify", "--data", left); code == 0 || !strings.Contains(out+errOut, "stands-in-the-journal") {
		t.Errorf("a record that is none is not found in the journal: %d, %s%s", code, out, errOut)
	}
	backup := filepath.Join(t.TempDir(), "club.backup")
	if code, _, errOut := run(t, "backup", backup, "--data", left); code != 0 {
		t.Fatal(errOut)
	}
	if data, err := os.ReadFile(backup); err != nil || !bytes.Contains(data, []byte(key)) {
		t.Errorf("what stands in the journal is not in the backup: %v", err)
	}
	if err := os.Remove(left); err != nil {
		t.Fatal(err)
	}
	for _, more := range [][]string{nil, {"--overwrite"}} {
		code, _, errOut := run(t, append([]string{"restore", backup, "--data", left}, more...)...)
		if code != 1 || !strings.Contains(errOut, bolt.JournalOf(left)) || !strings.Contains(errOut, "nothing was changed") {
			t.Errorf("%d: %s", code, errOut)
		}
	}
	if err := os.Remove(bolt.JournalOf(left)); err != nil {
		t.Fatal(err)
	}
	if code, _, errOut := run(t, "restore", backup, "--data", left, "--despite-findings"); code != 0 {
		t.Errorf("with the journal away: %d, %s", code, errOut)
	}
}
