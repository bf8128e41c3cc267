package server

// deep is how much stack a call is given before it writes, in bytes: what that goes down to.
const deep = 8 << 10

// deepen makes the stack of its goroutine large enough for a call that writes. Most goroutines begin with 2 to 4 kB: left to itself the
// stack grows where the call is deepest, in the store, and all that lies on it by then is copied. The room counts as soon as the function
// is entered. Nobody uses it, so that it need not be cleared.
//
//go:noinline
func deepen(use bool) (last byte) {
	if use {
		var room [deep]byte
		for i := range room {
			room[i] = room[i/2] + 1
		}
		last = room[deep-1]
	}
	return last
}
