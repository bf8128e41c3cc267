//go:build !linux

package daemon

func monotonic() int64 { return 0 }
