package headstart

import (
	"runtime"
	"sync/atomic"
	"syscall"
	"unsafe"
)

// The advice of madvise(2), which package syscall does not have all of.
const (
	hugePages    = 14 // MADV_HUGEPAGE
	noHugePages  = 15 // MADV_NOHUGEPAGE
	populateRead = 22 // MADV_POPULATE_READ, since Linux 5.14
)

// step is how much of the heap the runtime maps at a time, bytes, at multiples of it.
const step = 4 << 20

// page is how large a page is at the least, bytes.
const page = 4 << 10

// span is a part of the process's memory.
type span struct{ from, to uintptr }

// fresh is the part of the heap that is given in huge pages.
var fresh atomic.Pointer[span]

// mapping is a line of /proc/self/maps (proc_pid_maps(5)).
type mapping struct {
	span
	may, program string
}

func init() { begin(func() {}) }

// begin makes ready, and calls done when that is done.
func begin(done func()) {
	heap := span{from: uintptr(unsafe.Pointer(new(mapping))) &^ (step - 1)}
	heap.to = heap.from + step
	heap.advise(hugePages) // a fault for each 2 MiB instead of each 4 KiB
	go func() {
		heap.to = max(heap.to, (spread(false)+step-1)&^(step-1))
		heap.advise(hugePages)
		fresh.Store(&heap)
		for _, code := range ownFile(mappings()) {
			code.advise(populateRead)
		}
		done()
	}()
}

// ownFile are the mappings of the program's file that nothing is written to: the code, then what it reads. The tables by which stacks are
// walked come last there and begin with the names of functions: they are half of it, and left out, since a start looks up little in them.
func ownFile(maps []mapping) (own []span) {
	function := over
	entry := **(**uintptr)(unsafe.Pointer(&function))
	tables := uintptr(unsafe.Pointer(unsafe.StringData(runtime.FuncForPC(entry).Name())))
	var program string
	for _, m := range maps {
		if m.from <= entry && entry < m.to {
			program = m.program
		}
	}
	for _, m := range maps {
		if program != "" && m.program == program && (m.may == "r-xp" || m.may == "r--p") {
			if m.from < tables && tables < m.to {
				m.to = tables &^ (page - 1)
			}
			own = append(own, m.span)
		}
	}
	return own
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

// mappings reads how the process's memory is laid out; nothing where it cannot be read.
func mappings() (all []mapping) {
	file, err := syscall.Open("/proc/self/maps", syscall.O_RDONLY|syscall.O_CLOEXEC, 0)
	if err != nil {
		return nil
	}
	defer func() { _ = syscall.Close(file) }()
	var text []byte
	for part := make([]byte, 4096); ; {
		n, err := syscall.Read(file, part)
		if n <= 0 || err != nil {
			return parsed(string(text))
		}
		text = append(text, part[:n]...)
	}
}

// parsed takes lines as "00400000-0152e000 r-xp 00000000 fe:00 1234   /usr/bin/gritwardd" apart; what is no such line is left out.
func parsed(text string) (all []mapping) {
	for text != "" {
		var line string
		line, text = cut(text, '\n')
		var m mapping
		var from, to string
		from, line = cut(line, '-')
		to, line = cut(line, ' ')
		m.may, line = cut(line, ' ')
		for range 3 { // offset, device and inode
			_, line = cut(line, ' ')
		}
		for line != "" && line[0] == ' ' {
			line = line[1:]
		}
		m.program = line
		var ok, too bool
		m.from, ok = hex(from)
		m.to, too = hex(to)
		if ok && too && m.from < m.to {
			all = append(all, m)
		}
	}
	return all
}

// cut is strings.Cut, whose package is made too late.
func cut(s string, at byte) (before, after string) {
	for i := range len(s) {
		if s[i] == at {
			return s[:i], s[i+1:]
		}
	}
	return s, ""
}

// hex reads a number to the base of 16.
func hex(s string) (n uintptr, ok bool) {
	for i := range len(s) {
		var digit byte
		switch c := s[i]; {
		case '0' <= c && c <= '9':
			digit = c - '0'
		case 'a' <= c && c <= 'f':
			digit = c - 'a' + 10
		default:
			return 0, false
		}
		if n>>(8*unsafe.Sizeof(n)-4) != 0 {
			return 0, false
		}
		n = n<<4 | uintptr(digit)
	}
	return n, s != ""
}
