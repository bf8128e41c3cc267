package store

import "time"

// Observer hears how a store does. Its funcs must not wait; a nil one hears nothing.
type Observer struct {
	// Committed: a commit of so many transactions took so long, until the disk had it, or failed. One of none is of what was acknowledged
	// before, and goes on standing elsewhere on the disk.
	Committed func(took time.Duration, transactions int, err error)
	// Busy: a transaction was refused with ErrBusy.
	Busy func()
	// Trouble: a club cannot be read from where it is kept, which is tried again all the while; nil: it can again.
	Trouble func(club string, err error)
}
