package server

// deep is how much stack a call is given before anything of it is done, in bytes: what one that writes goes down to.
const deep = 8 << 10

// deepen makes the stack of its goroutine large enough for a call. Most goroutines begin with 2 to 4 kB: left to itself the stack
// grows where the call is deepest, in the store, and all that lies on it by then is copied.
//
//go:noinline
func deepen(at int) byte {
	var room [deep]byte
	room[at%deep]++ // without a use of it there would be no room
	return room[deep-1]
}
