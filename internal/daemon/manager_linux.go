package daemon

import "golang.org/x/sys/unix"

// monotonic is CLOCK_MONOTONIC in µs, as the manager wants it to tell one reload from another.
func monotonic() int64 {
	var at unix.Timespec
	if unix.ClockGettime(unix.CLOCK_MONOTONIC, &at) != nil {
		return 0
	}
	return at.Nano() / 1000
}
