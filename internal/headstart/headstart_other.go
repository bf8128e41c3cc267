//go:build !linux

package headstart

func over() {}
