// Package dialtest has a proxy between a client and a server for tests, which keeps back what goes through it.
package dialtest

import (
	"net"
	"sync"
	"testing"
)

// Proxy passes on what comes to Address, both ways.
type Proxy struct {
	Address string
	server  string

	mu sync.Mutex
	// changed is broadcast when held or kept changes.
	changed *sync.Cond
	held    bool
	kept    int
	ended   bool
	conns   []net.Conn
}

// NewProxy listens on a free port of this machine in front of a server, host:port, until the test ends.
func NewProxy(t testing.TB, server string) *Proxy {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &Proxy{Address: listener.Addr().String(), server: server}
	p.changed = sync.NewCond(&p.mu)
	var running sync.WaitGroup
	running.Go(func() {
		for {
			client, err := listener.Accept()
			if err != nil {
				return
			}
			running.Go(func() { p.connect(&running, client) })
		}
	})
	t.Cleanup(func() {
		_ = listener.Close()
		p.mu.Lock()
		p.ended = true
		for _, conn := range p.conns {
			_ = conn.Close()
		}
		p.changed.Broadcast()
		p.mu.Unlock()
		running.Wait()
	})
	return p
}

// Hold keeps back all that comes from now on, in both directions, and closes nothing: as a machine that is gone, or a network that
// lost its way. What the kernel takes of it, it takes still. New connections are taken and led nowhere.
func (p *Proxy) Hold() { p.hold(true) }

// Release passes on what was kept back, and what comes.
func (p *Proxy) Release() { p.hold(false) }

func (p *Proxy) hold(held bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.held, p.kept = held, 0
	p.changed.Broadcast()
}

// AwaitKept waits until more than so many bytes from clients to the server are kept back.
func (p *Proxy) AwaitKept(bytes int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for p.kept <= bytes && !p.ended {
		p.changed.Wait()
	}
}

func (p *Proxy) connect(running *sync.WaitGroup, client net.Conn) {
	if !p.keep(client) || !p.pass() {
		return
	}
	server, err := net.Dial("tcp", p.server)
	if err != nil {
		_ = client.Close()
		return
	}
	if !p.keep(server) {
		return
	}
	running.Go(func() { p.copy(server, client, true) })
	p.copy(client, server, false)
}

// keep notes a connection, to be closed in the end.
func (p *Proxy) keep(conn net.Conn) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ended {
		_ = conn.Close()
		return false
	}
	p.conns = append(p.conns, conn)
	return true
}

// copy reads on while it is held, so that it is known how much there is, as far as it has room.
func (p *Proxy) copy(to, from net.Conn, counts bool) {
	defer func() { _ = to.Close(); _ = from.Close() }()
	chunks := make(chan []byte, 1024)
	go func() {
		defer close(chunks)
		for {
			chunk := make([]byte, 32<<10)
			n, err := from.Read(chunk)
			if n > 0 {
				chunks <- chunk[:n]
				if counts {
					p.count(n)
				}
			}
			if err != nil {
				return
			}
		}
	}()
	for chunk := range chunks {
		if !p.pass() {
			break
		}
		if _, err := to.Write(chunk); err != nil {
			break
		}
	}
	_ = from.Close()
	for range chunks { // until it has ended
	}
}

func (p *Proxy) count(n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.held {
		p.kept += n
		p.changed.Broadcast()
	}
}

// pass waits while it is held; false: the test has ended.
func (p *Proxy) pass() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for p.held && !p.ended {
		p.changed.Wait()
	}
	return !p.ended
}
