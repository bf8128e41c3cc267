//go:build etcd

package etcd_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestTrouble puts under the keys of a club what no server writes: whoever reads the club is refused, it is told once, with the key, and
// stands among the troubles; other clubs are not touched. When it is gone the club is read again by itself, which is told, too.
func TestTrouble(t *testing.T) {
	t.Parallel()
	address, prefix := etcdtest.Shared(t)
	bare := etcdtest.Client(t, address)
	first := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix})
	for _, club := range []string{"moor", "fell"} {
		must(t, first.Update(t.Context(), club, func(tx store.Tx) error { return tx.Put("a", []byte("1")) }))
	}
	strange := prefix + "clubs/moor/keys/strange"
	_, err := bare.Put(t.Context(), strange, "\xff\xff\xff")
	must(t, err)
	told := make(chan error, 100)
	s := opened(t, etcd.Options{Endpoints: []string{address}, Prefix: prefix, Timeout: time.Second, Observer: store.Observer{Trouble: func(club string, err error) {
		if club != "moor" {
			t.Errorf("trouble with %s: %v", club, err)
		}
		told <- err
	}}})
	reads := func(tx store.Tx) error { _, err := tx.Get("a"); return err }
	if err := s.View(t.Context(), "moor", reads); !errors.Is(err, store.ErrUnreachable) || !strings.Contains(err.Error(), "keys/strange") {
		t.Errorf("%v, want ErrUnreachable with the key", err)
	}
	if err := <-told; err == nil || !strings.Contains(err.Error(), "keys/strange") {
		t.Errorf("told %v", err)
	}
	must(t, s.View(t.Context(), "fell", reads))
	if all := s.Troubles(); len(all) != 1 || all["moor"] == nil {
		t.Errorf("%v", all)
	}
	_, err = bare.Delete(t.Context(), strange)
	must(t, err)
	if err := <-told; err != nil {
		t.Errorf("told %v", err)
	}
	must(t, s.View(t.Context(), "moor", reads))
	if all := s.Troubles(); len(all) != 0 || len(told) != 0 {
		t.Errorf("%v, and told %d times more", all, len(told))
	}
}
