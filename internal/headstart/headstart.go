// Package headstart has the memory that a program's start goes through made ready beside it. The start of a Go program with many packages
// touches a thousand pages of fresh memory and a few hundred of its own file, and stops at each until the system has put it there, which in
// a virtual machine takes up to half of the whole start. It imports nothing but runtime and syscall, so that it is among the first packages to be made.
//
// Whatever the system refuses is left as it is: the start then takes as long as without.
package headstart

// Over says that the start is over: memory is again given as it is touched, page by page. What was made ready and not used can then be
// given back.
func Over() { over() }
