package bolt

import (
	"os"

	"golang.org/x/sys/unix"
)

// syncData brings the bytes of a file down to the disk, and of what is known about it only what is needed to read them.
func syncData(file *os.File) error { return unix.Fdatasync(int(file.Fd())) }
