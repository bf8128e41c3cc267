package etcd

import (
	"testing"

	"gritward/internal/store"
)

// TestDueFirst has room for two: what is put on the agenda goes before what is taken off.
func TestDueFirst(t *testing.T) {
	m := &mirror{store: &Store{Options: Options{TxnOps: otherOps + 2, TxnBytes: 1 << 20}}}
	gone, first, second := change{key: store.DuePrefix + "a"}, change{key: store.DuePrefix + "b", record: []byte{0}}, change{key: store.DuePrefix + "c", record: []byte{0}}
	got := m.dueFirst([]change{gone, {key: "ride/1", record: []byte{0}}, first, second})
	if len(got) != 2 || got[0].key != first.key || got[1].key != second.key {
		t.Errorf("first go %v", got)
	}
}
