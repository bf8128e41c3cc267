package vitals

import (
	"errors"
	"fmt"
	"path/filepath"
	"syscall"
)

// Room on a file system, in bytes: below leastRoom writing fails before long, below scarceRoom somebody should look. Ours: a club's
// store is some MiB, and is copied once when it is rewritten.
const (
	leastRoom  = 16 << 20
	scarceRoom = 256 << 20
	// readOnly is ST_RDONLY of statvfs(3).
	readOnly = 1
)

// Disk looks at the file system that a file lies on, or will.
func Disk(file string) Finding {
	folder := filepath.Dir(file)
	var is syscall.Statfs_t
	if err := syscall.Statfs(folder, &is); err != nil {
		if errors.Is(err, syscall.ENOENT) {
			return Finding{"disk", Warning, "the folder " + folder + " is not there", "The server makes it when it starts, if it may.", "see that the path in data is right"}
		}
		return Finding{"disk", Failing, fmt.Sprintf("%s cannot be looked at: %v", folder, err), "The store cannot be written there.", "see that the file system is mounted"}
	}
	free := is.Bavail * uint64(is.Bsize)
	what := fmt.Sprintf("%s free in %s", bytesOf(free), folder)
	switch {
	case is.Flags&readOnly != 0:
		return Finding{"disk", Failing, "the file system of " + folder + " is read-only", "Nothing can be written: sign-ups and marks of the roll call are refused. Disks that fail are often set so.",
			"see in the system's log (dmesg) why, put that right, and mount it for writing"}
	case free < leastRoom:
		return Finding{"disk", Failing, what, "Writing fails, or will at any moment.", "make room, or move the store to a larger disk"}
	case free < scarceRoom:
		return Finding{"disk", Warning, what, "The store has to be copied once when something is erased, and a backup takes as much again.", "make room"}
	}
	return Well("disk", "%s", what)
}

func bytesOf(n uint64) string {
	switch {
	case n >= 1<<30:
		return fmt.Sprintf("%.1f GiB", float64(n)/(1<<30))
	default:
		return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20))
	}
}
