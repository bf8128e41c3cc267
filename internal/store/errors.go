package store

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

var (
	// ErrReadOnly refuses a write in a View.
	ErrReadOnly = errors.New("store: this transaction only reads: write in an Update")
	// ErrClosed refuses to use a store that was closed, or a transaction that is over.
	ErrClosed = errors.New("store: the store is closed or the transaction is over: begin a new one on an open store")
	// ErrScanning refuses a write while a scan of the same transaction is under way.
	ErrScanning = errors.New("store: nothing can be written while a scan is under way: collect the keys, end the scan, then write")
	// ErrBusy refuses a transaction since too many wait already; nothing of it ran.
	ErrBusy = errors.New("store: too many transactions wait to be written: try again in a moment")
	// ErrUnreachable refuses a transaction since what keeps the store does not answer; nothing of it was done.
	ErrUnreachable = errors.New("store: what keeps it does not answer; nothing was done: look at its servers and the network, and try again")
	// ErrFull refuses a transaction since what keeps the store has no room left; nothing of it was done.
	ErrFull = errors.New("store: what keeps it is full; nothing was done: make room there")
	// ErrUncertain says that a transaction may have been committed, or not: what keeps the store was lost in the middle.
	ErrUncertain = errors.New("store: whether the change is there is uncertain: read it again")
	// ErrOffDuty refuses what a server that is no longer on duty would write.
	ErrOffDuty = errors.New("store: another server is on duty by now; nothing was done")
	// ErrClubID is in the error about a club id that is not as CheckClub has it.
	ErrClubID = errors.New("store: not a club id")
	// ErrKey is in the error about a key that is not as CheckKey has it.
	ErrKey = errors.New("store: not a key")
)

// MaxKeyBytes is the length of the longest key: the limit of bbolt, bbolt.MaxKeySize.
const MaxKeyBytes = 32768

// CheckClub returns an error with ErrClubID in it unless club is 1 to 40 lower-case letters, digits and hyphens, the
// first not a hyphen.
func CheckClub(club string) error {
	const letters = "abcdefghijklmnopqrstuvwxyz0123456789-"
	if len(club) >= 1 && len(club) <= 40 && club[0] != '-' && strings.Trim(club, letters) == "" {
		return nil
	}
	return fmt.Errorf("%w: %.80q: use 1 to 40 of a-z, 0-9 and -, not beginning with -", ErrClubID, club)
}

// CheckKey returns an error with ErrKey in it unless key has 1 to MaxKeyBytes bytes, of any kind.
func CheckKey(key string) error {
	if len(key) >= 1 && len(key) <= MaxKeyBytes {
		return nil
	}
	return fmt.Errorf("%w: %d bytes: use 1 to %d", ErrKey, len(key), MaxKeyBytes)
}

// LockedError says that another process has the store open.
type LockedError struct {
	// Path is the store's file.
	Path string
	// Waited is for how long the other process was waited for.
	Waited time.Duration
}

// Error says where, what, and what to do.
func (e *LockedError) Error() string {
	return fmt.Sprintf("store: %s is in use by another process (waited %s): stop that server, or point --data elsewhere", e.Path, e.Waited)
}

// DamagedError says that the store's file is not as it was written. It is no longer served.
type DamagedError struct {
	Path string
	// What is damaged.
	What string
}

// Error says where, what, and what to do.
func (e *DamagedError) Error() string {
	return fmt.Sprintf("store: %s is damaged (%s): run gritwardd verify --data %s, or restore a backup with gritwardd restore", e.Path, e.What, e.Path)
}
