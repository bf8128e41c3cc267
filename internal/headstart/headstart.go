// Package headstart has the memory that a program's start goes through given in large pieces. The start of a Go program with many packages
// touches a thousand pages of fresh memory, and stops at each until the system has put it there, which in a virtual machine takes a good part
// of the whole start. It imports nothing but syscall, so that it is among the first packages to be made.
//
// The pages of the program's own file are left to come as they are touched. To have all of them put there beside the start was tried, and
// took more of the processor than it saved, with the file in memory and without.
//
// Whatever the system refuses is left as it is: the start then takes as long as without.
package headstart

// Over says that the start is over: memory is again given as it is touched, page by page. What was made ready and not used can then be
// given back.
func Over() { over() }
