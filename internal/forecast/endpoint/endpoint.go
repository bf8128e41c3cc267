// Package endpoint fetches point forecasts over HTTPS from one configured address that serves the format of package
// forecast.
//
// It keeps to what such services ask of their users (Norwegian Meteorological Institute, "Terms of Service",
// api.met.no/doc/TermsOfService): it says who asks, rounds coordinates to four decimals, does not ask again before the
// answer's Expires, then asks with If-Modified-Since, and holds back when it is told that it asks too much. Nothing is
// fetched unless somebody wants a forecast.
//
// It talks to the configured host alone: a redirect elsewhere is refused. Whether a forecast is fresh enough is for the
// caller to say.
package endpoint

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"sync"
	"time"

	"gritward/internal/forecast"
)

const (
	// keptPlaces is how many places' forecasts are kept.
	keptPlaces = 64
	// decimals of a degree asked for: some ten metres.
	decimals = 4
	// maxRedirects is how often the host may send a request on within itself.
	maxRedirects = 3
	// minHold and maxHold bound how long an answer is kept without asking again, whatever Expires says; minHold holds
	// where it says nothing.
	minHold, maxHold = 10 * time.Minute, 24 * time.Hour
	// minRest and maxRest bound how long nothing is asked after "too many requests" or "busy", whatever Retry-After says.
	minRest, maxRest = time.Minute, time.Hour
)

// Config says where forecasts come from.
type Config struct {
	// URL is the address, https; lat and lon are added to its query.
	URL string
	// UserAgent tells the service who asks and how to reach them.
	UserAgent string
	// Timeout bounds a whole request, redirects and body included; above 0.
	Timeout time.Duration
	// Roots are the authorities trusted; nil: those of the system.
	Roots *x509.CertPool
	// Now is the clock.
	Now func() time.Time
}

// Endpoint fetches forecasts and keeps them in memory. It is safe for concurrent use.
type Endpoint struct {
	config Config
	base   *url.URL
	client *http.Client

	mu     sync.Mutex
	kept   map[string]*entry
	order  []string
	restBy time.Time // nothing is asked before
}

// entry is the kept answer for a place. Who holds turn may use it.
type entry struct {
	turn         chan struct{}
	forecast     *forecast.Forecast
	readAt       time.Time
	lastModified string
	expires      time.Time
}

// Answer is a forecast, and how it was come by.
type Answer struct {
	Forecast *forecast.Forecast
	// ReadAt is when the service last said that this is its newest.
	ReadAt time.Time
	// Note says what the caller should know, in words; empty: nothing.
	Note string
}

// New checks the address and makes an endpoint. It does not connect.
func New(config Config) (*Endpoint, error) {
	base, err := Address(config.URL)
	if err != nil {
		return nil, err
	}
	e := &Endpoint{config: config, base: base, kept: map[string]*entry{}}
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.TLSClientConfig = &tls.Config{RootCAs: config.Roots, MinVersion: tls.VersionTLS12}
	transport.MaxResponseHeaderBytes = 64 << 10
	transport.MaxIdleConns = 1
	e.client = &http.Client{Transport: transport, Timeout: config.Timeout, CheckRedirect: e.redirect}
	return e, nil
}

// Address reads the address of an endpoint, and says what is wrong with it.
func Address(text string) (*url.URL, error) {
	base, err := url.Parse(text)
	switch {
	case err != nil || base.Host == "" || base.Opaque != "":
		return nil, errors.New("must be an address as https://HOST/PATH")
	case base.Scheme != "https":
		return nil, fmt.Errorf("must begin with https://, not %s://", base.Scheme)
	case base.User != nil:
		return nil, errors.New("must not hold a user or a password")
	case base.Fragment != "":
		return nil, errors.New("must not have a part after #")
	case base.Query().Has("lat") || base.Query().Has("lon"):
		return nil, errors.New("must not say lat or lon; they are added for each ride")
	}
	return base, nil
}

// Host is the name of the machine that is asked.
func (e *Endpoint) Host() string { return e.base.Hostname() }

func (e *Endpoint) redirect(next *http.Request, before []*http.Request) error {
	switch {
	case next.URL.Scheme != "https" || next.URL.Host != e.base.Host:
		return refused("it sends the request on to another place (" + next.URL.Scheme + "://" + next.URL.Host + "), which is not followed; set the address that it is at now")
	case len(before) > maxRedirects:
		return refused("it sends the request round in a circle")
	}
	return nil
}

// Fetch gives the forecast for a place. A kept copy is given as long as the service says that it holds, and after that
// where the service cannot be reached or is busy; Note says so. The error is an [*Error], or that of ctx.
func (e *Endpoint) Fetch(ctx context.Context, latDeg, lonDeg float64) (*Answer, error) {
	if !(math.Abs(latDeg) <= 90) || !(math.Abs(lonDeg) <= 180) {
		return nil, refused(fmt.Sprintf("%v, %v is no place", latDeg, lonDeg))
	}
	lat, lon := rounded(latDeg), rounded(lonDeg)
	c := e.entryOf(lat + " " + lon)
	select {
	case c.turn <- struct{}{}:
		defer func() { <-c.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	now := e.config.Now()
	if c.forecast != nil && now.Before(c.expires) {
		return &Answer{Forecast: c.forecast, ReadAt: c.readAt}, nil
	}
	note, failed := e.ask(ctx, lat, lon, c)
	switch {
	case failed == nil:
		return &Answer{Forecast: c.forecast, ReadAt: c.readAt, Note: note}, nil
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case failed.Later && c.forecast != nil:
		return &Answer{Forecast: c.forecast, ReadAt: c.readAt,
			Note: "The forecast service could not be asked for a newer one: " + failed.What + "."}, nil
	}
	return nil, failed
}

// entryOf gives the entry of a place, making room for it.
func (e *Endpoint) entryOf(key string) *entry {
	e.mu.Lock()
	defer e.mu.Unlock()
	c, there := e.kept[key]
	if !there {
		if len(e.order) == keptPlaces {
			delete(e.kept, e.order[0])
			e.order = e.order[1:]
		}
		c = &entry{turn: make(chan struct{}, 1)}
		e.kept[key], e.order = c, append(e.order, key)
	}
	return c
}

// resting tells until when nothing is asked.
func (e *Endpoint) resting(now time.Time) (time.Time, bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.restBy, now.Before(e.restBy)
}

func (e *Endpoint) rest(until time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.restBy = until
}

func rounded(deg float64) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(deg*scale)/scale+0, 'f', -1, 64)
}
