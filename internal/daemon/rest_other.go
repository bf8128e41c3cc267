//go:build !linux

package daemon

// releaseProgram does nothing where the program's pages cannot be released.
func releaseProgram() {}
