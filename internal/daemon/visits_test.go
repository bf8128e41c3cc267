package daemon

import (
	"bufio"
	"context"
	"io"
	"net"
	"net/http"
	"sync"
	"testing"
	"time"
)

// TestVisits ends a server that has one new connection and one with a request: both are answered first.
func TestVisits(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	asked, answer := make(chan struct{}), make(chan struct{})
	p := &pages{listener: listener, http: &http.Server{}}
	p.http.ConnState, p.http.Handler = p.visits.note, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/long" {
			close(asked)
			<-answer
		}
		_, _ = io.WriteString(w, r.URL.Path)
	})
	p.serving.Go(func() { _ = p.http.Serve(listener) })
	dial := func() net.Conn {
		conn, err := net.Dial("tcp", listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = conn.Close() })
		return conn
	}
	ask := func(conn net.Conn, path string) {
		if _, err := io.WriteString(conn, "GET "+path+" HTTP/1.1\r\nHost: club\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
	}
	is := func(conn net.Conn, want string) {
		t.Helper()
		said, err := http.ReadResponse(bufio.NewReader(conn), nil)
		if err != nil {
			t.Fatalf("%s is not answered: %v", want, err)
		}
		if words, err := io.ReadAll(said.Body); string(words) != want || err != nil {
			t.Errorf("%s is answered with %q, %v", want, words, err)
		}
	}
	long, fresh := dial(), dial()
	ask(long, "/long")
	<-asked
	for _, there := p.visits.waiting(); !there; _, there = p.visits.waiting() { // it comes out of the socket's line soon
		time.Sleep(time.Millisecond)
	}
	ended := make(chan struct{})
	go func() { p.finish(); close(ended) }()
	select {
	case <-ended:
		t.Fatal("the server ended with nobody answered")
	case <-time.After(20 * lookAgain): // enough for a server that does not wait to begin its shutdown
	}
	ask(fresh, "/fresh")
	is(fresh, "/fresh")
	close(answer)
	is(long, "/long")
	<-ended
}

// TestVisitsEnd ends a server that is asked all the time, each time before the last answer is there: who came is answered, and who
// comes afterwards is refused.
func TestVisitsEnd(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	came, answer := make(chan struct{}), make(chan struct{})
	p := &pages{listener: listener, http: &http.Server{}}
	p.http.ConnState, p.http.Handler = p.visits.note, http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
		came <- struct{}{}
		<-answer
	})
	p.serving.Go(func() { _ = p.http.Serve(listener) })
	var asking sync.WaitGroup
	ask := func() (refused bool) {
		conn, err := net.Dial("tcp", listener.Addr().String())
		if err != nil {
			return true
		}
		answered := make(chan error, 1)
		asking.Go(func() {
			defer func() { _ = conn.Close() }()
			_, err := io.WriteString(conn, "GET / HTTP/1.1\r\nHost: club\r\n\r\n")
			if err == nil {
				_, err = http.ReadResponse(bufio.NewReader(conn), nil)
			}
			answered <- err
		})
		select {
		case <-answered: // it was in the socket's line when that was closed
			return true
		case <-came:
		}
		asking.Go(func() {
			if err := <-answered; err != nil {
				t.Errorf("who came is not answered: %v", err)
			}
		})
		return false
	}
	ask()
	ended := make(chan struct{})
	go func() { p.finish(); close(ended) }()
	for !ask() {
		answer <- struct{}{} // one of the two
	}
	answer <- struct{}{}
	<-ended
	asking.Wait()
}

// TestVisitsPatience gives a connection that asks nothing its while, and one that is not answered until the context ends.
func TestVisitsPatience(t *testing.T) {
	one, other := net.Pipe()
	defer func() { _, _ = one.Close(), other.Close() }()
	var v visits
	v.end(t.Context()) // nobody is there
	v.note(one, http.StateNew)
	v.end(t.Context()) // else it would never come back
	v.note(one, http.StateActive)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	v.end(ctx)
	v.note(one, http.StateIdle)
	v.end(t.Context())
}
