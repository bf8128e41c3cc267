//go:build etcd

package bench_test

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"
)

// What the scale of a federation is told for. Assumed where no source is named.
const (
	fedRidesKept = 60  // two winters of 30 rides, as rides_kept of the shipped policy has it
	fedRush      = 0.5 // of Friday's sign-ups come within rushS of their opening
	rushS        = 600
	// etcdBytes is the most that etcd's own documentation suggests for one store.
	// https://etcd.io/docs/v3.4/dev-guide/limit/, "Storage size limit"
	etcdBytes = 8 << 30
)

// unit is what one club takes: to be founded, and each week; and the bytes that it then has.
type unit struct {
	founded, week         cost
	liveFounded, liveWeek float64
}

func (w weekend) unit(clubs int) unit {
	return unit{w.founded.per(clubs), plus(w.friday, w.morning, w.evening).per(clubs), w.liveFounded, w.liveMore}
}

func plus(all ...cost) (sum cost) {
	for _, c := range all {
		sum = cost{sum.cpu + c.cpu, sum.engine + c.engine, sum.took + c.took, sum.writes + c.writes, sum.written + c.written, sum.used + c.used, sum.calls + c.calls}
	}
	return sum
}

// keptBytes is what a club's records come to once rides go as new ones come.
func (u unit) keptBytes() float64 { return u.liveFounded + fedRidesKept*u.liveWeek }

// scaled is what a number of clubs takes, by the model: everything in proportion, since no call on the path of a ride reads
// or writes more in a larger federation.
type scaled struct {
	clubs                     float64
	keptGB, weekCPU, weekMB   float64
	callsWeek, rush           float64 // a week; sign-ups a second when all clubs open at once
	serverCores, clusters     float64
	clubsInMemory, mirrorsGiB float64
}

func (u unit) scale(clubs, mirrorBytes float64) scaled {
	kept := u.keptBytes() * fedGrowth(u)
	return scaled{
		clubs: clubs, keptGB: clubs * kept / 1e9, weekCPU: clubs * u.week.cpu, weekMB: clubs * u.week.written / 1e6,
		callsWeek: clubs * u.week.calls, rush: clubs * fedRiders * fedRush / rushS,
		serverCores: clubs * (u.week.cpu + u.week.engine) / 2 / 3600, // half of a week's work in its busiest hour
		clusters:    math.Ceil(clubs * kept / etcdBytes),
		mirrorsGiB:  clubs * u.keptBytes() / (1 << 30), clubsInMemory: mirrorBytes / u.keptBytes(),
	}
}

// fedGrowth is by how much the engine's file is larger than the keys and values in it.
func fedGrowth(u unit) float64 {
	return (u.founded.used + u.week.used) / (u.liveFounded + u.liveWeek)
}

// tell prints the model for some numbers of clubs.
func tell(w io.Writer, engine string, u unit, mirrorBytes float64, clubs ...float64) {
	fmt.Fprintf(w, "\none club of %d members on %s: %.0f kB when founded, %.0f kB more, %.0f writes of %.0f kB, %.0f calls and %.2f + %.2f s of processor time (server and clients, etcd's three members) a week with a ride of %d; the file is %.1f times what is in it\n",
		fedMembers, engine, u.liveFounded/1e3, u.liveWeek/1e3, u.week.writes, u.week.written/1e3, u.week.calls, u.week.cpu, u.week.engine, fedRiders, fedGrowth(u))
	table := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(table, "clubs\tmembers\tkept in the end\tclusters of 8 GiB\tmirrors of all\tsign-ups at once\tcalls a week\tprocessors in the busiest hour")
	for _, n := range clubs {
		s := u.scale(n, mirrorBytes)
		fmt.Fprintf(table, "%.0f\t%.0f\t%.1f GB\t%.0f\t%.1f GiB\t%.0f/s\t%.2g\t%.2g\n",
			n, n*fedMembers, s.keptGB, s.clusters, s.mirrorsGiB, s.rush, s.callsWeek, s.serverCores)
	}
	_ = table.Flush()
	s := u.scale(1, mirrorBytes)
	winter := u.liveFounded + fedRidesKept/2*u.liveWeek
	fmt.Fprintf(w, "one cluster of %d GiB ends at %.0f clubs, or %.0f where one winter of rides is kept; a server that keeps mirrors of %.0f MiB has %.0f whole clubs in memory\n",
		etcdBytes>>30, etcdBytes/(u.keptBytes()*fedGrowth(u)), etcdBytes/(winter*fedGrowth(u)), mirrorBytes/(1<<20), s.clubsInMemory)
}
