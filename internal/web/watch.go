package web

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/klauspost/compress/gzhttp"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// beatEvery is how often a page that keeps itself fresh hears that the way is open still: proxies let go of what is silent for
// a minute (common practice, no source).
const beatEvery = 25 * time.Second

// mostWatched is how many pages of a device are kept fresh at a time: a browser's tabs, with room. stalled is how long one may leave
// the server waiting with what it is told.
const (
	mostWatched = 32
	stalled     = time.Minute
)

// watching counts the pages that are kept fresh, by device.
type watching struct {
	mu sync.Mutex
	of map[string]int
}

// begin counts one more; false: there are too many.
func (w *watching) begin(device string) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.of[device] >= mostWatched {
		return false
	}
	w.of[device]++
	return true
}

func (w *watching) end(device string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.of[device]--; w.of[device] == 0 {
		delete(w.of, device)
	}
}

// changes tells a page what happens to its ride, as server-sent events (HTML Living Standard, 9.2). Each has its number as its
// id, so that a browser that comes back goes on from there.
func (v *visit) changes() error {
	request := &pb.WatchRideRequest{Name: v.ride()}
	if last, err := strconv.ParseInt(v.r.Header.Get("Last-Event-ID"), 10, 64); err == nil && last >= 0 {
		request.After = &last
	}
	if !v.watching.begin(v.who.Device.Name) {
		return fault.New(pb.Reason_TOO_MANY_CALLS, "too many pages are kept fresh on this device; close some")
	}
	defer v.watching.end(v.who.Device.Name)
	ctx, cancel := context.WithCancel(v.ctx)
	defer cancel()
	defer context.AfterFunc(v.Ending, cancel)()
	stream, err := v.rides.WatchRide(ctx, request)
	if err != nil {
		return err
	}
	first, err := stream.Recv() // so that who may not watch is told so
	if err != nil && request.After == nil {
		return err
	}
	events := newEvents(v.w)
	if first != nil {
		events.tell(first)
	}
	came := make(chan *pb.RideChange)
	go func() {
		defer close(came)
		for {
			change, err := stream.Recv()
			if err != nil {
				return
			}
			select {
			case came <- change:
			case <-ctx.Done():
				return
			}
		}
	}()
	beat := time.NewTicker(v.beatEvery())
	defer beat.Stop()
	for events.err == nil {
		select {
		case change, open := <-came:
			if !open {
				return nil // the browser comes back by itself
			}
			events.tell(change)
		case <-beat.C:
			events.write(": still here\n\n")
		case <-ctx.Done():
			return nil
		}
	}
	return nil
}

func (s *site) beatEvery() time.Duration {
	if s.Beat > 0 {
		return s.Beat
	}
	return beatEvery
}

// events is a stream of them under way.
type events struct {
	w    http.ResponseWriter
	flow *http.ResponseController
	err  error
}

// newEvents begins a stream, which the clocks of other answers do not end; that of each write does.
func newEvents(w http.ResponseWriter) *events {
	e := &events{w: w, flow: http.NewResponseController(w)}
	e.err = e.flow.SetReadDeadline(time.Time{})
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // of a server in front that would wait for more
	h.Set(gzhttp.HeaderNoCompression, "yes")
	w.WriteHeader(http.StatusOK)
	e.write("retry: 5000\n\n")
	return e
}

// tell sends one change. What it is in words stays behind: the page asks for what is so now.
func (e *events) tell(change *pb.RideChange) {
	if change.News == pb.RideNews_WATCH_BEGUN {
		e.write(fmt.Sprintf("id: %d\n\n", change.Number))
		return
	}
	e.write(fmt.Sprintf("id: %d\nevent: change\ndata: %s\n\n", change.Number, change.News))
}

func (e *events) write(text string) {
	if e.err != nil {
		return
	}
	if e.err = e.flow.SetWriteDeadline(time.Now().Add(stalled)); e.err != nil { // the socket's own clock
		return
	}
	if _, e.err = e.w.Write([]byte(text)); e.err == nil {
		e.err = e.flow.Flush()
	}
}
