package store_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
)

func TestCheckClub(t *testing.T) {
	for club, good := range map[string]bool{
		"a": true, "7": true, "moor-wheelers": true, "a-": true, strings.Repeat("a", 40): true,
		"": false, "-a": false, "A": false, "a_b": false, "a/b": false, "a b": false, "a\n": false, "\na": false, "ä": false, "a\x00": false,
		"..": false, strings.Repeat("a", 41): false, "\xff": false, strings.Repeat("a", 1<<20): false,
	} {
		err := store.CheckClub(club)
		if (err == nil) != good {
			t.Errorf("CheckClub(%.50q) = %v, want good: %t", club, err, good)
		}
		if err != nil && (!errors.Is(err, store.ErrClubID) || len(err.Error()) > 400) {
			t.Errorf("CheckClub(%.50q): %d bytes of error, ErrClubID in it: %t", club, len(err.Error()), errors.Is(err, store.ErrClubID))
		}
	}
}

func TestCheckKey(t *testing.T) {
	for key, good := range map[string]bool{
		"a": true, "\x00": true, "\xff\xfe": true, " ": true, strings.Repeat("k", store.MaxKeyBytes): true,
		"": false, strings.Repeat("k", store.MaxKeyBytes+1): false,
	} {
		err := store.CheckKey(key)
		if (err == nil) != good || err != nil && !errors.Is(err, store.ErrKey) {
			t.Errorf("CheckKey of %d bytes = %v, want good: %t", len(key), err, good)
		}
	}
}

func TestLockedErrorSaysWhatToDo(t *testing.T) {
	err := &store.LockedError{Path: "/path/club.db", Waited: 3 * time.Second}
	want := "store: /path/club.db is in use by another process (waited 3s): stop that server, or point --data elsewhere"
	if err.Error() != want {
		t.Errorf("got  %s\nwant %s", err, want)
	}
}
