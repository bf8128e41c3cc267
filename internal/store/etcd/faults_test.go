//go:build etcd

package etcd_test

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestMembersFail has two servers write and watch while members of etcd are killed, also the one that leads, and cut off, and come
// back. What was acknowledged is there, once; what was told not to be done is not there; who watches sees all of it, in order.
func TestMembersFail(t *testing.T) {
	t.Parallel()
	cluster := etcdtest.NewCluster(t, 3)
	j := &journal{t: t, acknowledged: map[string]bool{}, refused: map[string]bool{}}
	var servers []*etcd.Store
	for range 2 {
		servers = append(servers, opened(t, etcd.Options{Endpoints: cluster.Addresses(), Prefix: "faults/"}))
	}
	ctx, stop := context.WithCancel(t.Context())
	var writers, watchers sync.WaitGroup
	for i, s := range servers {
		for w := range 4 {
			writers.Go(func() { j.write(ctx, s, fmt.Sprint("s", i, "w", w)) })
		}
		watchers.Go(func() { j.watch(s) })
	}
	for _, fault := range []struct {
		what string
		do   func()
	}{
		{"nothing", func() {}},
		{"a follower is killed", func() { other := (cluster.Leader() + 1) % 3; cluster.Kill(other); j.more(200); cluster.Start(other) }},
		{"the leader is killed", func() { leader := cluster.Leader(); cluster.Kill(leader); j.more(200); cluster.Start(leader) }},
		{"a follower is cut off", func() { other := (cluster.Leader() + 1) % 3; cluster.Freeze(other); j.more(200); cluster.Thaw(other) }},
		{"the leader is cut off", func() { leader := cluster.Leader(); cluster.Freeze(leader); j.more(200); cluster.Thaw(leader) }},
		{"most are killed", func() {
			for i := range 2 {
				cluster.Kill(i)
			}
			j.refusals(1) // nobody can write, and somebody is told
			for i := range 2 {
				cluster.Start(i)
			}
		}},
	} {
		began := time.Now()
		fault.do()
		j.more(200)
		t.Logf("%s: %d written after %s", fault.what, j.count.Load(), time.Since(began).Round(time.Millisecond))
	}
	stop()
	writers.Wait()
	j.end.Store(true)
	must(t, servers[0].Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("log/end", nil) }))
	watchers.Wait()
	for _, s := range servers {
		j.holds(s)
	}
}

// journal is what is written under its own name, once, and in a row of numbers.
type journal struct {
	t     *testing.T
	count atomic.Int64
	told  atomic.Int64
	end   atomic.Bool

	mu                    sync.Mutex
	acknowledged, refused map[string]bool
}

var errTwice = errors.New("it is there already")

// write writes one entry after another until the context ends.
func (j *journal) write(ctx context.Context, s *etcd.Store, who string) {
	for n := 0; ctx.Err() == nil; n++ {
		id := fmt.Sprint(who, ".", n)
		err := s.Update(context.Background(), "moor", func(tx store.Tx) error {
			there, err := tx.Get("id/" + id)
			if err != nil || there != nil {
				return errors.Join(err, errTwice)
			}
			text, err := tx.Get("count")
			count, _ := strconv.Atoi(string(text))
			return errors.Join(err, tx.Put("count", []byte(strconv.Itoa(count+1))), tx.Put(fmt.Sprintf("log/%08d", count+1), []byte(id)), tx.Put("id/"+id, []byte{}))
		})
		j.mu.Lock()
		switch {
		case err == nil:
			j.acknowledged[id] = true
			j.count.Add(1)
		case errors.Is(err, store.ErrUnreachable):
			j.refused[id] = true
			j.told.Add(1)
		case errors.Is(err, store.ErrUncertain):
			j.told.Add(1)
		default:
			j.t.Errorf("%s: %v", id, err)
		}
		j.mu.Unlock()
	}
}

// watch follows the row of numbers until its end, by what wakes it.
func (j *journal) watch(s *etcd.Store) {
	woken, err := s.Watch(context.Background(), "moor", "log/")
	if err != nil {
		j.t.Error(err)
		return
	}
	last := 0
	for ended := false; !ended; {
		<-woken
		err := s.View(context.Background(), "moor", func(tx store.Tx) error {
			return tx.Scan("log/", fmt.Sprintf("log/%08d", last), func(key string, _ []byte) (bool, error) {
				if ended = key == "log/end"; ended {
					return false, nil
				}
				if last++; key != fmt.Sprintf("log/%08d", last) {
					return false, fmt.Errorf("%s follows %d", key, last-1)
				}
				return true, nil
			})
		})
		if errors.Is(err, store.ErrUnreachable) {
			continue // the change that comes then wakes it again
		}
		if err != nil {
			j.t.Error(err)
			return
		}
	}
}

// more waits until so many more were acknowledged, refusals until so many more were told that it failed.
func (j *journal) more(n int64)     { j.until(&j.count, n) }
func (j *journal) refusals(n int64) { j.until(&j.told, n) }

func (j *journal) until(of *atomic.Int64, n int64) {
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for want := of.Load() + n; of.Load() < want; {
		select {
		case <-tick.C:
		case <-j.t.Context().Done():
			j.t.Fatal("the test ends")
		}
	}
}

// holds holds what a server reads against what was told.
func (j *journal) holds(s *etcd.Store) {
	seen, entries := map[string]bool{}, 0
	must(j.t, s.View(j.t.Context(), "moor", func(tx store.Tx) error {
		text, err := tx.Get("count")
		if err != nil {
			return err
		}
		if err := tx.Scan("log/0", "", func(key string, id []byte) (bool, error) {
			if entries++; seen[string(id)] || key != fmt.Sprintf("log/%08d", entries) {
				j.t.Errorf("%s of %s: entry %d, seen before: %t", key, id, entries, seen[string(id)])
			}
			seen[string(id)] = true
			return true, nil
		}); err != nil {
			return err
		}
		if string(text) != strconv.Itoa(entries) {
			j.t.Errorf("counted %s, and there are %d", text, entries)
		}
		return nil
	}))
	for id := range j.acknowledged {
		if !seen[id] {
			j.t.Errorf("%s was acknowledged and is not there", id)
		}
	}
	for id := range j.refused {
		if seen[id] {
			j.t.Errorf("%s was told not to be done and is there", id)
		}
	}
	j.t.Logf("%d acknowledged, %d told not to be done, %d entries", len(j.acknowledged), len(j.refused), entries)
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
