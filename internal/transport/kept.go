package transport

import (
	"io/fs"
	"log/slog"
	"os"
	"sync"
)

// kept is what was read from files, and is read again when they change. It is looked at when it is needed, for a new
// connection, so nothing runs in between. While the files cannot be read the last good value stays, and the log says why,
// once for each change.
type kept[T any] struct {
	what  string
	paths []string
	read  func() (T, error)
	log   *slog.Logger

	mu    sync.Mutex
	seen  []fs.FileInfo
	value T
}

// keep reads the files for the first time.
func keep[T any](log *slog.Logger, what string, read func() (T, error), paths ...string) (*kept[T], error) {
	k := &kept[T]{what: what, paths: paths, read: read, log: log}
	k.seen = k.look()
	var err error
	k.value, err = read()
	return k, err
}

// get gives what the files hold, or held when they were last as they must be.
func (k *kept[T]) get() T {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.look() // before reading: a change while reading shows the next time
	if same(k.seen, now) {
		return k.value
	}
	k.seen = now
	read, err := k.read()
	if err != nil {
		k.log.Error(k.what+" changed and cannot be used; the one before stays in use", "error", err)
		return k.value
	}
	k.log.Info(k.what + " changed and is in use")
	k.value = read
	return k.value
}

// look says how the files are now; nil stands for one that is not there.
func (k *kept[T]) look() []fs.FileInfo {
	infos := make([]fs.FileInfo, len(k.paths))
	for i, path := range k.paths {
		if info, err := os.Stat(path); err == nil {
			infos[i] = info
		}
	}
	return infos
}

func same(a, b []fs.FileInfo) bool {
	for i := range a {
		if (a[i] == nil) != (b[i] == nil) {
			return false
		}
		if a[i] != nil && !(os.SameFile(a[i], b[i]) && a[i].Size() == b[i].Size() && a[i].ModTime().Equal(b[i].ModTime())) {
			return false
		}
	}
	return true
}
