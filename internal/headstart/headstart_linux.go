package headstart

import (
	"sync/atomic"
	"syscall"
	"unsafe"
)

// The advice of madvise(2), which package syscall does not have all of.
const (
	hugePages   = 14 // MADV_HUGEPAGE
	noHugePages = 15 // MADV_NOHUGEPAGE
)

// step is how much of the heap the runtime maps at a time, bytes, at multiples of it.
const step = 4 << 20

// span is a part of the process's memory.
type span struct{ from, to uintptr }

// fresh is the part of the heap that is given in huge pages.
var fresh atomic.Pointer[span]

func init() { begin(func() {}) }

// begin asks for huge pages, and calls done when that is done.
func begin(done func()) {
	heap := span{from: uintptr(unsafe.Pointer(new(span))) &^ (step - 1)}
	heap.to = heap.from + step
	heap.advise(hugePages) // a fault for each 2 MiB instead of each 4 KiB
	go func() {
		heap.to = max(heap.to, (spread(false)+step-1)&^(step-1))
		heap.advise(hugePages)
		fresh.Store(&heap)
		done()
	}()
}

func over() {
	if heap := fresh.Swap(nil); heap != nil {
		heap.advise(noHugePages)
	}
}

// advise tells the system; it is no harm if it refuses.
func (s span) advise(advice uintptr) {
	_, _, _ = syscall.Syscall(syscall.SYS_MADVISE, s.from, s.to-s.from, advice)
}

// spread has the runtime map the part of the heap that the start will fill, and tells an address near its end. The runtime maps a step when
// the one before is full, and what is advised holds only for what is mapped. So it is asked for a stack of that size, by a frame of half
// as much: nothing of it is touched, and it goes back to the heap as soon as the goroutine ends. again is never true.
//
//go:noinline
func spread(again bool) uintptr {
	if again {
		wide()
	}
	var here byte
	return uintptr(unsafe.Pointer(&here))
}

// wide has a result that its caller must keep room for.
//
//go:noinline
func wide() (_ [step / 2]byte) { return }
