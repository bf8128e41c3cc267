package bench_test

import (
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"slices"
	"sync"
	"testing"
	"text/tabwriter"

	"gritward/internal/lull"
)

// row is one line of the table: what the program took, what its limit took in the same run, and what of it is to be reached.
type row struct {
	what, ours, beside string
	// ratio is the program's figure to its limit's; reach is what it is to be: at the most, or at the least where more is
	// better. 0: only told.
	ratio, reach float64
	more         bool
	// wall tells that both are by the clock on the wall: other work on the machine blurs the ratio, so that it is told, and
	// never fails a run.
	wall bool
}

// ok tells whether the ratio is reached, so many times over.
func (r row) ok(slack float64) bool {
	switch {
	case r.reach == 0:
		return true
	case r.more:
		return r.ratio*slack >= r.reach
	}
	return r.ratio <= r.reach*slack
}

func (r row) words() string {
	if r.reach == 0 {
		return ""
	}
	sign, said := "≤", "reached"
	if r.more {
		sign = "≥"
	}
	if !r.ok(1) {
		said = "MISSED"
	}
	return fmt.Sprintf("%s %.2g %s", sign, r.reach, said)
}

// table has the rows of all benchmarks that ran, in their order; of one that ran twice the last.
var table struct {
	mu   sync.Mutex
	rows []row
}

// wrong is by how much a ratio in processor time or memory may miss its limit before the run fails.
const wrong = 3

// report puts a row into the table, and its ratio among the benchmark's metrics.
func report(b *testing.B, r row) {
	b.Helper()
	b.ReportMetric(0, "ns/op") // the loop's own time means nothing here
	b.ReportMetric(r.ratio, "ratio")
	table.mu.Lock()
	defer table.mu.Unlock()
	table.rows = append(slices.DeleteFunc(table.rows, func(old row) bool { return old.what == r.what }), r)
	if !r.wall && !r.ok(wrong) {
		b.Errorf("%s: %.3g beside a limit of %.3g: that is no noise", r.what, r.ratio, r.reach)
	}
}

func TestMain(m *testing.M) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(lull.CollectAt) // as gritwardd does, for the program and for its limits
	}
	code := m.Run()
	printTable(os.Stdout)
	removeFixtures()
	os.Exit(code)
}

func printTable(to io.Writer) {
	defer printGrowth(to)
	if len(table.rows) == 0 {
		return
	}
	w := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "\nwhat\tthe program\tits limit\tratio\tto reach")
	for _, r := range table.rows {
		fmt.Fprintf(w, "%s\t%s\t%s\t%.2f\t%s\n", r.what, r.ours, r.beside, r.ratio, r.words())
	}
	_ = w.Flush()
}
