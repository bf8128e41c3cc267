package server

import (
	"errors"
	"net/http"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"google.golang.org/grpc/codes"

	"gritward/internal/fault"
)

// Counters count what the server did since it started. Every label is a word of the protocol, so that no caller can make
// their number grow, and none tells who called. A nil one counts nothing.
type Counters struct {
	registry *prometheus.Registry
	calls    *prometheus.CounterVec
	refused  *prometheus.CounterVec
	closed   prometheus.Counter
}

// NewCounters makes counters that stand at zero.
func NewCounters() *Counters {
	c := &Counters{
		registry: prometheus.NewRegistry(),
		calls: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "gritward_calls_total", Help: "Calls answered, by method and gRPC code."}, []string{"method", "code"}),
		refused: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "gritward_refused_total", Help: "Calls refused, by reason."}, []string{"reason"}),
		closed: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "gritward_connections_closed_total", Help: "Connections closed at once, since their address had too many."}),
	}
	c.registry.MustRegister(c.calls, c.refused, c.closed)
	return c
}

// Handler serves the counters in the Prometheus text format.
func (c *Counters) Handler() http.Handler {
	return promhttp.HandlerFor(c.registry, promhttp.HandlerOpts{})
}

// called counts a call that was let in far enough to be answered.
func (c *Counters) called(method string, code codes.Code) {
	if c != nil {
		c.calls.WithLabelValues(method, code.String()).Inc()
	}
}

// refuse counts a refusal, when the error is one.
func (c *Counters) refuse(err error) {
	var made *fault.Error
	if c != nil && errors.As(err, &made) {
		c.refused.WithLabelValues(made.Reason.String()).Inc()
	}
}

// shut counts a connection closed at once.
func (c *Counters) shut() {
	if c != nil {
		c.closed.Inc()
	}
}
