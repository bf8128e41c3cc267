package cli

import (
	"fmt"
	"sync"
	"time"
)

// progressAfter is how long something may take before a line tells that it goes on.
const progressAfter = time.Second

// progress tells on a terminal that something takes its time: one line, once a second, wiped when done. The func
// returned ends it.
func (a *app) progress(what string) (done func()) {
	if !a.io.ErrTerminal {
		return func() {}
	}
	stop, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(progressAfter)
		defer tick.Stop()
		for seconds := 1; ; seconds++ {
			select {
			case <-stop:
				if seconds > 1 {
					fmt.Fprint(a.io.Err, "\r\x1b[K")
				}
				return
			case <-tick.C:
				fmt.Fprintf(a.io.Err, "\r\x1b[K%s: %d s", clean(what), seconds)
			}
		}
	}()
	return sync.OnceFunc(func() {
		close(stop)
		<-ended
	})
}
