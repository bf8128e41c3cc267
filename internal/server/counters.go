package server

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/VictoriaMetrics/metrics"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/fault"
	"gritward/internal/release"
	"gritward/internal/store"
)

// Family is a metric, or several that differ in their labels alone.
type Family struct{ Name, Kind, Labels, Help string }

// Families are all metrics of our own, in the order of their names. Beside them are those of the process and of Go's runtime, whose
// names begin with process_ and go_. The values of all labels are words of the protocol, or of this program; none is made of
// data, so that no caller can make their number grow, and none tells who called.
var Families = []Family{
	{"gritward_build_info", "gauge", "version, go", "Always 1; the labels say which build this is."},
	{"gritward_call_seconds", "histogram", "method, le", "How long calls took that were let in, streams excepted."},
	{"gritward_calls_total", "counter", "method, code", "Calls that were let in and answered, by method and gRPC code."},
	{"gritward_certificate_left_days", "gauge", "kind", "Days until the certificate ends: the server's, and that of its own authority."},
	{"gritward_connections_closed_total", "counter", "", "Connections closed at once, since their address had too many."},
	{"gritward_letters_oldest_seconds", "gauge", "", "For how long the oldest letter has been waiting for the mail server."},
	{"gritward_letters_queued", "gauge", "", "Letters that wait for the mail server."},
	{"gritward_refused_total", "counter", "kind", "Calls refused, by the reason in the error."},
	{"gritward_riders_overdue", "gauge", "", "Riders who were overdue when this server last looked."},
	{"gritward_store_batch_size", "histogram", "le", "Transactions that shared a commit."},
	{"gritward_store_busy_total", "counter", "", "Transactions refused since too many were waiting."},
	{"gritward_store_commit_failures_total", "counter", "", "Commits that failed."},
	{"gritward_store_commit_seconds", "histogram", "le", "How long it took until the disk had what was committed together, in the journal or the file."},
	{"gritward_store_waiting", "gauge", "", "Transactions that wait to be written."},
	{"gritward_streams_open", "gauge", "method", "Streams under way."},
}

// otherMethod stands for methods that are not the protocol's: those of health and reflection, and such as are not there.
const otherMethod = "other"

// callBounds and commitBounds are the bounds of the histograms of times, s; batchBounds of that of transactions. Ours.
var (
	callBounds   = []float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10}
	commitBounds = []float64{0.0005, 0.002, 0.005, 0.01, 0.03, 0.1, 0.5, 2, 10}
	batchBounds  = []float64{1, 2, 4, 8, 16, 64, 256, 1024}
)

// Counters count what the server did since it started. A nil one counts nothing, and costs nothing.
type Counters struct {
	set     *metrics.Set
	methods map[string]*methodCounters
	mu      sync.Mutex
	refused map[string]*metrics.Counter
	closed  *metrics.Counter
}

// methodCounters are those of one method. They are made when it is first called.
type methodCounters struct {
	of      *metrics.Set
	method  string
	seconds atomic.Pointer[metrics.PrometheusHistogram]
	codes   [codes.Unauthenticated + 1]atomic.Pointer[metrics.Counter] // the last code that there is
	open    *metrics.Gauge
}

// NewCounters makes counters that stand at zero.
func NewCounters() *Counters {
	metrics.ExposeMetadata(true)
	c := &Counters{set: metrics.NewSet(), methods: map[string]*methodCounters{}, refused: map[string]*metrics.Counter{}}
	c.closed = c.set.NewCounter("gritward_connections_closed_total")
	c.set.NewGauge(fmt.Sprintf("gritward_build_info{version=%q,go=%q}", release.Number(), runtime.Version()), func() float64 { return 1 })
	c.methods[otherMethod] = &methodCounters{of: c.set, method: otherMethod}
	eachMethod(func(name string, method protoreflect.MethodDescriptor) {
		m := &methodCounters{of: c.set, method: strings.TrimPrefix(name, "/gritward.v1.")}
		if method.IsStreamingServer() {
			m.open = c.set.NewGauge(fmt.Sprintf("gritward_streams_open{method=%q}", m.method), nil)
		}
		c.methods[name] = m
	})
	return c
}

// Gauge has a value asked for whenever somebody reads the metrics; name is one of Families, with its labels.
func (c *Counters) Gauge(name string, value func() float64) { c.set.NewGauge(name, value) }

// Observer counts what a store does.
func (c *Counters) Observer() store.Observer {
	if c == nil {
		return store.Observer{}
	}
	seconds := c.set.NewPrometheusHistogramExt("gritward_store_commit_seconds", commitBounds)
	size := c.set.NewPrometheusHistogramExt("gritward_store_batch_size", batchBounds)
	busy, failures := c.set.NewCounter("gritward_store_busy_total"), c.set.NewCounter("gritward_store_commit_failures_total")
	return store.Observer{
		Committed: func(took time.Duration, transactions int, err error) {
			seconds.Update(took.Seconds())
			if transactions > 0 { // else one that no transaction waits for
				size.Update(float64(transactions))
			}
			if err != nil {
				failures.Inc()
			}
		},
		Busy: busy.Inc,
	}
}

// Handler serves the metrics in the Prometheus text format.
func (c *Counters) Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		var text bytes.Buffer
		c.set.WritePrometheus(&text)
		content := text.String()
		for _, family := range Families { // the library knows no words for what they are
			content = strings.Replace(content, "# HELP "+family.Name+"\n", "# HELP "+family.Name+" "+family.Help+"\n", 1)
		}
		text.Reset()
		text.WriteString(content)
		metrics.WriteProcessMetrics(&text)
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		_, _ = w.Write(text.Bytes()) // who asked is gone
	})
}

// of are the counters of a method, by its full name.
func (c *Counters) of(method string) *methodCounters {
	if m, known := c.methods[method]; known {
		return m
	}
	return c.methods[otherMethod]
}

// called counts a call that was let in far enough to be answered.
func (c *Counters) called(method string, code codes.Code, took time.Duration) {
	if c == nil {
		return
	}
	m := c.of(method)
	lazily(&m.codes[min(int(code), len(m.codes)-1)], func() *metrics.Counter {
		return m.of.GetOrCreateCounter(fmt.Sprintf("gritward_calls_total{method=%q,code=%q}", m.method, code))
	}).Inc()
	if m.open == nil {
		lazily(&m.seconds, func() *metrics.PrometheusHistogram {
			return m.of.GetOrCreatePrometheusHistogramExt(fmt.Sprintf("gritward_call_seconds{method=%q}", m.method), callBounds)
		}).Update(took.Seconds())
	}
}

// lazily gives what was made before, or makes it; made twice at once it is the same thing in the set.
func lazily[T any](kept *atomic.Pointer[T], make func() *T) *T {
	if there := kept.Load(); there != nil {
		return there
	}
	kept.Store(make())
	return kept.Load()
}

// streaming counts a stream as open until the func returned is called.
func (c *Counters) streaming(method string) (end func()) {
	if c == nil || c.of(method).open == nil {
		return func() {}
	}
	open := c.of(method).open
	open.Inc()
	return open.Dec
}

// refuse counts a refusal, when the error is one.
func (c *Counters) refuse(err error) {
	var refusal *fault.Error
	if c == nil || !errors.As(err, &refusal) {
		return
	}
	kind := refusal.Reason.String()
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.refused[kind] == nil {
		c.refused[kind] = c.set.NewCounter(fmt.Sprintf("gritward_refused_total{kind=%q}", kind))
	}
	c.refused[kind].Inc()
}

// shut counts a connection closed at once.
func (c *Counters) shut() {
	if c != nil {
		c.closed.Inc()
	}
}

// FamilyOf is the family that a name in the text format belongs to: a histogram has several names.
func FamilyOf(name string) (Family, bool) {
	at := slices.IndexFunc(Families, func(f Family) bool {
		return f.Name == name || f.Kind == "histogram" && slices.Contains([]string{f.Name + "_bucket", f.Name + "_sum", f.Name + "_count"}, name)
	})
	if at < 0 {
		return Family{}, false
	}
	return Families[at], true
}
