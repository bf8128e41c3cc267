package etcd

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"go.etcd.io/etcd/api/v3/etcdserverpb"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/zap"
)

// Member is how one member of etcd is.
type Member struct {
	// Address is one of Endpoints, host:port.
	Address string
	// Failed is why it cannot be asked; nil: it answers.
	Failed error
	// Version is etcd's, Leads whether it leads, Headless that it knows of none that does.
	Version         string
	Leads, Headless bool
	// Size is how large its file is, Used how much of that is taken, and Quota how large it may become, bytes; 0: not known.
	Size, Used, Quota int64
	// Ends is when the first of the certificates ends that it is trusted by, its own and its authority's; zero in the open.
	Ends time.Time
}

// Condition is how an etcd is.
type Condition struct {
	Members []Member
	// Voting is how many members etcd itself says that vote; 0: nobody said.
	Voting int
	// Full says that etcd raised the alarm for want of space, and writes nothing until that is disarmed. Corrupt is that for damaged data.
	Full, Corrupt bool
}

// Look asks every one of the endpoints how it is, at the same time.
func Look(ctx context.Context, options Options) (c Condition, err error) {
	if options, err = options.filled(); err != nil {
		return c, err
	}
	c.Members = make([]Member, len(options.Endpoints))
	var asked sync.WaitGroup
	for i, address := range options.Endpoints {
		asked.Go(func() { c.Members[i] = lookAt(ctx, address, options) })
	}
	asked.Wait()
	if !slices.ContainsFunc(c.Members, func(m Member) bool { return m.Failed == nil }) {
		return c, nil
	}
	client, err := newClient(options)
	if err != nil {
		return c, err
	}
	defer func() { _ = client.Close() }()
	within, cancel := context.WithTimeout(ctx, attemptTime)
	defer cancel()
	if listed, err := client.MemberList(within); err == nil {
		for _, m := range listed.Members {
			if !m.IsLearner {
				c.Voting++
			}
		}
	}
	if raised, err := client.AlarmList(within); err == nil {
		for _, alarm := range raised.Alarms {
			c.Full = c.Full || alarm.Alarm == etcdserverpb.AlarmType_NOSPACE
			c.Corrupt = c.Corrupt || alarm.Alarm == etcdserverpb.AlarmType_CORRUPT
		}
	}
	return c, nil
}

// lookAt asks one member, over a connection to it alone.
func lookAt(ctx context.Context, address string, options Options) Member {
	m := Member{Address: address}
	shown, err := Reach(ctx, address, options.TLS)
	if err != nil {
		m.Failed = err
		return m
	}
	m.Ends = firstEnd(shown)
	options.Endpoints = []string{address}
	client, err := newClient(options)
	if err != nil {
		m.Failed = err
		return m
	}
	defer func() { _ = client.Close() }()
	within, cancel := context.WithTimeout(ctx, attemptTime)
	defer cancel()
	told, err := client.Status(within, address)
	if err != nil {
		m.Failed = fmt.Errorf("%s takes connections and does not say how it is: %w: see its log", address, err)
		return m
	}
	m.Version, m.Leads, m.Headless = told.Version, told.Leader == told.Header.MemberId, told.Leader == 0
	m.Size, m.Used, m.Quota = told.DbSize, told.DbSizeInUse, told.DbSizeQuota
	if m.Quota == 0 { // etcd says it from 3.6 on
		m.Quota, _ = quotaOf(within, address, options.TLS)
	}
	return m
}

// firstEnd is when the first of some certificates ends.
func firstEnd(certs []*x509.Certificate) (ends time.Time) {
	for _, cert := range certs {
		if ends.IsZero() || cert.NotAfter.Before(ends) {
			ends = cert.NotAfter
		}
	}
	return ends
}

// quotaMetric is where a member tells its --quota-backend-bytes (https://etcd.io/docs/v3.4/metrics/etcd-metrics-latest.txt).
const quotaMetric = "etcd_server_quota_backend_bytes "

// quotaOf reads it from what the member tells Prometheus.
func quotaOf(ctx context.Context, address string, way *tls.Config) (int64, error) {
	scheme := "http://"
	if way != nil {
		scheme = "https://"
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, scheme+address+"/metrics", nil)
	if err != nil {
		return 0, err
	}
	transport := &http.Transport{TLSClientConfig: way, DisableKeepAlives: true}
	answer, err := transport.RoundTrip(request)
	if err != nil {
		return 0, err
	}
	defer func() { _ = answer.Body.Close() }()
	for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
		if value, is := strings.CutPrefix(lines.Text(), quotaMetric); is {
			bytes, err := strconv.ParseFloat(value, 64)
			return int64(bytes), err
		}
	}
	return 0, errors.New("the member does not tell its quota")
}

// newClient connects to the endpoints of options that are filled.
func newClient(options Options) (*clientv3.Client, error) {
	client, err := clientv3.New(clientv3.Config{Endpoints: options.Endpoints, TLS: options.TLS, DialTimeout: options.Timeout,
		DialKeepAliveTime: pingEvery, DialKeepAliveTimeout: pingTimeout, PermitWithoutStream: true, Logger: zap.NewNop()})
	if err != nil {
		return nil, fmt.Errorf("store: etcd at %s: %w", strings.Join(options.Endpoints, ", "), err)
	}
	return client, nil
}
