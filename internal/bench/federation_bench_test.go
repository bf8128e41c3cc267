//go:build etcd

package bench_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"testing"
	"time"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// fedClubs is how many clubs the weekend is played with that the model is held against; 200 are asked for by hand.
var fedClubs = flag.Int("clubs", 40, "how many clubs BenchmarkFederation plays a weekend with")

// BenchmarkFederation plays a Friday and a Sunday of some clubs on one server over three members of etcd, makes of their cost a model by which
// everything is in proportion to the number of clubs, holds the model against the weekend of many more, and tells what it
// says of a federation.
func BenchmarkFederation(b *testing.B) {
	const few, atonce = 10, 16
	cluster := etcdtest.NewCluster(b, 3)
	opened, err := etcd.Open(b.Context(), etcd.Options{Endpoints: cluster.Addresses(), Now: func() time.Time { return friday }})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = opened.Close() })
	client := etcdtest.Client(b, cluster.Addresses()...)
	f := newFederation(b, engine{"etcd", opened, func() int64 {
		now, err := client.Get(context.Background(), "any")
		if err == nil { // what was written over is no part of what is kept
			_, err = client.Compact(context.Background(), now.Header.Revision, clientv3.WithCompactPhysical())
		}
		if err != nil && !errors.Is(err, rpctypes.ErrCompacted) {
			b.Fatal(err)
		}
		status, err := client.Status(context.Background(), cluster.Addresses()[0])
		if err != nil {
			b.Fatal(err)
		}
		return status.DbSizeInUse
	}, cluster.Busy})
	for b.Loop() {
		f.play(few, atonce) // what is made once is made
		said := f.play(few, atonce).unit(few)
		many := f.play(*fedClubs, atonce)
		is := many.unit(*fedClubs)
		for _, one := range []struct {
			what     string
			said, is float64
			wall     bool
			unit     string
		}{
			{"processor time of a club's weekend", said.week.cpu, is.week.cpu, true, "s"},
			{"processor time of etcd in it", said.week.engine, is.week.engine, true, "s"},
			{"writes of a club's weekend", said.week.writes, is.week.writes, false, ""},
			{"bytes of a club's weekend", said.week.written, is.week.written, false, "B"},
		} {
			report(b, row{what: fmt.Sprintf("%s, of %d clubs beside %d", one.what, *fedClubs, few), ours: fmt.Sprintf("%.4g %s", one.is, one.unit),
				beside: fmt.Sprintf("%.4g %s", one.said, one.unit), ratio: one.is / one.said, reach: 1.25, wall: one.wall})
		}
		tell(os.Stdout, "etcd", is, etcd.DefaultMirrorBytes, 200, 2000, 100_000)
		fmt.Printf("%d clubs: Friday %.1f s with %.0f writes/s, Sunday morning %.1f s, evening %.1f s, by the clock, %d clubs at once\n", *fedClubs,
			many.friday.took, many.friday.writes/many.friday.took, many.morning.took, many.evening.took, atonce)
	}
}
