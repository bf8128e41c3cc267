package daemon

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// socketsEnv hands listening sockets on to the next process: KEY=FD for each, parted by commas, where KEY is the setting that has the
// address. systemd's own way (LISTEN_PID, LISTEN_FDS, LISTEN_FDNAMES of sd_listen_fds(3)) is taken too, with the settings as names.
const socketsEnv = "GRITWARD_SOCKETS"

// socketKeys are the settings that have an address to listen on.
func socketKeys() []string { return []string{"listen", "pages_listen", "operator_listen"} }

// sockets are what the server listens on. They were handed over by the process before, or by systemd, or are made. Each stays open until
// the process ends: who calls while one server has stopped and the next has not begun waits in the socket's line.
type sockets struct {
	mu    sync.Mutex
	given map[string]*os.File
	// kept are those in use, for the process after.
	kept map[string]*os.File
	open map[string]*doorway
	// own: the server before handed them over, and not a service manager.
	own bool
	log *slog.Logger
}

// takeSockets takes what was handed over.
func takeSockets(log *slog.Logger) (*sockets, error) {
	s := &sockets{log: log, given: map[string]*os.File{}, kept: map[string]*os.File{}, open: map[string]*doorway{}}
	defer func() {
		for _, name := range []string{socketsEnv, "LISTEN_PID", "LISTEN_FDS", "LISTEN_FDNAMES"} {
			_ = os.Unsetenv(name)
		}
	}()
	handed := map[string]string{}
	if given := os.Getenv(socketsEnv); given != "" {
		s.own = true
		for one := range strings.SplitSeq(given, ",") {
			key, fd, _ := strings.Cut(one, "=")
			handed[fd] = key
		}
	} else if n, err := strconv.Atoi(os.Getenv("LISTEN_FDS")); err == nil && os.Getenv("LISTEN_PID") == strconv.Itoa(os.Getpid()) {
		names := strings.Split(os.Getenv("LISTEN_FDNAMES"), ":")
		for i := range n {
			key := "listen"
			if i < len(names) && (n > 1 || slices.Contains(socketKeys(), names[i])) {
				key = names[i]
			}
			handed[strconv.Itoa(3+i)] = key // SD_LISTEN_FDS_START
		}
	}
	for text, key := range handed {
		fd, err := strconv.Atoi(text)
		if err != nil || !slices.Contains(socketKeys(), key) || s.given[key] != nil {
			return nil, fmt.Errorf("a socket called %q was handed over: FileDescriptorName must be one of %s, each once", key, strings.Join(socketKeys(), ", "))
		}
		closeOnExec(fd)
		s.given[key] = os.NewFile(uintptr(fd), key)
	}
	return s, nil
}

// listen gives the listener of a setting: the one handed over, or a new one.
func (s *sockets) listen(key, address, what string) (net.Listener, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if address == "" {
		if file := s.given[key]; file != nil { // else who calls there would wait for ever
			_ = file.Close()
			delete(s.given, key)
		}
		return nil, nil
	}
	listener, err := s.handed(key, address)
	if err == nil && listener == nil {
		listener, err = net.Listen("tcp", address)
	}
	if err != nil {
		return nil, fmt.Errorf("cannot listen on %s%s: %w; another server may be running there", address, what, err)
	}
	tcp, ok := listener.(*net.TCPListener)
	if !ok {
		_ = listener.Close()
		return nil, fmt.Errorf("the socket handed over for %s is not one of TCP", key)
	}
	if s.kept[key], err = tcp.File(); err != nil {
		_ = tcp.Close()
		return nil, err
	}
	s.open[key] = newDoorway(tcp)
	return s.open[key], nil
}

// handed gives the listener that was handed over for a setting; nil: none was, or the server before listened elsewhere, and the
// setting was changed since. Where the new address cannot be had, the server stays where it was.
func (s *sockets) handed(key, address string) (net.Listener, error) {
	file := s.given[key]
	if file == nil {
		return nil, nil
	}
	delete(s.given, key)
	defer file.Close()
	listener, err := net.FileListener(file)
	if err != nil || sameAddress(listener.Addr().String(), address) {
		return listener, err
	}
	was := listener.Addr().String()
	if !s.own {
		s.log.Warn("the service manager handed over a socket with another address than the settings have; the socket counts", "setting", key, "settings", address, "socket", was)
		return listener, nil
	}
	moved, err := net.Listen("tcp", address)
	if errors.Is(err, syscall.EADDRINUSE) && samePort(was, address) { // it may be in the way itself
		_ = listener.Close()
		_ = file.Close()
		if moved, err = net.Listen("tcp", address); err != nil {
			var back error
			if listener, back = net.Listen("tcp", was); back != nil {
				return nil, errors.Join(err, back)
			}
		}
	}
	if err != nil {
		s.log.Error("the setting was changed, and the server cannot listen there: it stays where it was", "setting", key, "settings", address, "listens", was, "error", err)
		return listener, nil
	}
	_ = listener.Close()
	s.log.Info("the setting was changed: the server listens elsewhere from now on", "setting", key, "before", was, "now", moved.Addr().String())
	return moved, nil
}

// sameAddress tells whether a listener at an address is what a setting asks for; its port may be 0, any.
func sameAddress(is, setting string) bool {
	want, err := net.ResolveTCPAddr("tcp", setting)
	at, err2 := net.ResolveTCPAddr("tcp", is)
	if err != nil || err2 != nil {
		return false
	}
	every := func(a *net.TCPAddr) bool { return len(a.IP) == 0 || a.IP.IsUnspecified() }
	return (want.Port == 0 || want.Port == at.Port) && (want.IP.Equal(at.IP) || every(want) && every(at))
}

// listening are the addresses in use, by the name of the setting.
func (s *sockets) listening() map[string]string {
	s.mu.Lock()
	defer s.mu.Unlock()
	at := map[string]string{}
	for key, open := range s.open {
		at[key] = open.Addr().String()
	}
	return at
}

// leave ends taking connections. Those that were taken have begun afterwards; those that come wait in the socket's line.
func (s *sockets) leave() {
	for _, open := range s.open {
		open.leave()
	}
}

// close closes all, and refuses who waits.
func (s *sockets) close() {
	for _, file := range s.kept {
		_ = file.Close()
	}
	for _, file := range s.given {
		_ = file.Close()
	}
}

// doorway is a listener that can be left without losing anybody: gRPC closes a connection that it had just taken when it is told to
// stop, which its client takes for a failure.
type doorway struct {
	*net.TCPListener
	mu      sync.Mutex
	left    bool
	parked  chan struct{}
	closed  chan struct{}
	begun   sync.WaitGroup
	closing sync.Once
	parking sync.Once
}

func newDoorway(tcp *net.TCPListener) *doorway {
	return &doorway{TCPListener: tcp, parked: make(chan struct{}), closed: make(chan struct{})}
}

// leaveMost bounds how long is waited for what a connection does at once.
const leaveMost = time.Second

func (d *doorway) leave() {
	d.mu.Lock()
	d.left = true
	d.mu.Unlock()
	_ = d.SetDeadline(time.Now()) // wakes Accept
	begun := make(chan struct{})
	go func() {
		<-d.parked
		d.begun.Wait()
		close(begun)
	}()
	select {
	case <-begun:
	case <-d.closed:
	case <-time.After(leaveMost): // nobody accepts, or somebody's connection does nothing
	}
}

// Accept takes the next connection. Once the doorway is left it waits until it is closed.
func (d *doorway) Accept() (net.Conn, error) {
	for {
		d.mu.Lock()
		left := d.left
		d.mu.Unlock()
		if left {
			d.parking.Do(func() { close(d.parked) })
			<-d.closed
			return nil, net.ErrClosed
		}
		conn, err := d.TCPListener.Accept()
		if err == nil {
			d.begun.Add(1)
			return &newcomer{Conn: conn, begun: sync.OnceFunc(d.begun.Done)}, nil
		}
		if timeout, ok := err.(net.Error); !ok || !timeout.Timeout() {
			return nil, err
		}
	}
}

// Close ends the listener.
func (d *doorway) Close() error {
	d.closing.Do(func() { close(d.closed) })
	return d.TCPListener.Close()
}

// newcomer is a connection that has begun with the first that is done to it: gRPC sets its deadline, HTTP and TLS read.
type newcomer struct {
	net.Conn
	begun func()
}

// SetDeadline implements net.Conn.
func (n *newcomer) SetDeadline(at time.Time) error { n.begun(); return n.Conn.SetDeadline(at) }

// SetReadDeadline implements net.Conn.
func (n *newcomer) SetReadDeadline(at time.Time) error { n.begun(); return n.Conn.SetReadDeadline(at) }

// Read implements net.Conn.
func (n *newcomer) Read(into []byte) (int, error) { n.begun(); return n.Conn.Read(into) }

// Close implements net.Conn.
func (n *newcomer) Close() error { n.begun(); return n.Conn.Close() }
