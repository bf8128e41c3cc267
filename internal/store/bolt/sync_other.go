//go:build !linux

package bolt

import "os"

// syncData brings a file down to the disk.
func syncData(file *os.File) error { return file.Sync() }
