//go:build unix

package daemon

import "syscall"

// ownersOnly has a socket made for its owner alone (Linux takes the mode from it when it gets its name), so that nobody gets in
// before its mode is changed.
func ownersOnly(_, _ string, raw syscall.RawConn) error {
	return raw.Control(func(fd uintptr) { _ = syscall.Fchmod(int(fd), 0o600) })
}
