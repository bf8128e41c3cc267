package endpoint

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"gritward/internal/forecast"
)

// Error is why there is no forecast, in words.
type Error struct {
	What string
	// Later says that asking again later may help.
	Later bool
	// Cause is for a log.
	Cause error
}

// Error implements error.
func (e *Error) Error() string { return e.What }

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

func refused(what string) *Error { return &Error{What: what} }

func later(cause error, format string, args ...any) *Error {
	return &Error{What: fmt.Sprintf(format, args...), Later: true, Cause: cause}
}

// ask asks the service for the forecast of a place, and puts it into the entry. An entry that is there stays as it is
// unless a readable forecast takes its place.
func (e *Endpoint) ask(ctx context.Context, lat, lon string, c *entry) (note string, failed *Error) {
	now := e.config.Now()
	if until, resting := e.resting(now); resting {
		return "", later(nil, "it was busy or asked too often, and is left alone until %s UTC", until.UTC().Format("15:04"))
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, e.address(lat, lon), nil)
	if err != nil {
		return "", &Error{What: "its address cannot be used", Cause: err}
	}
	request.Header.Set("User-Agent", e.config.UserAgent)
	request.Header.Set("Accept", "application/json")
	if c.forecast != nil && c.lastModified != "" {
		request.Header.Set("If-Modified-Since", c.lastModified)
	}
	response, err := e.client.Do(request)
	if err != nil {
		return "", onTheWay(err, "it cannot be reached")
	}
	defer response.Body.Close()
	switch status := response.StatusCode; {
	case status == http.StatusNotModified && c.forecast != nil:
		c.readAt, c.expires = now, expires(response.Header, now)
		return "", nil
	case status == http.StatusOK || status == http.StatusNonAuthoritativeInfo:
		if failed := c.take(response, now); failed != nil {
			return "", failed
		}
		if status == http.StatusNonAuthoritativeInfo { // so the terms of service
			note = "The forecast service says that this form of its forecasts is on trial or will end: tell whoever runs the server."
		}
		return note, nil
	default:
		return "", e.declined(response, now)
	}
}

func (e *Endpoint) address(lat, lon string) string {
	at := *e.base
	query := at.Query()
	query.Set("lat", lat)
	query.Set("lon", lon)
	at.RawQuery = query.Encode()
	return at.String()
}

// take reads an answer into the entry.
func (c *entry) take(response *http.Response, now time.Time) *Error {
	kind, _, err := mime.ParseMediaType(response.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" && kind != "application/geo+json" {
		return later(err, "it answered with %.60q, not with JSON", response.Header.Get("Content-Type"))
	}
	if packed := response.Header.Get("Content-Encoding"); packed != "" { // gzip, which was asked for, is unpacked by now
		return later(nil, "it packed its answer in a way that was not asked for (%.20q)", packed)
	}
	// One byte more than is taken, so that too much is told from just enough, packed or not.
	body, err := io.ReadAll(io.LimitReader(response.Body, forecast.MaxBytes+1))
	if err != nil {
		return onTheWay(err, "its answer cannot be read")
	}
	read, err := forecast.Read(body)
	if err != nil {
		return later(err, "what it answered is not a forecast (%v)", err)
	}
	c.forecast, c.readAt, c.lastModified = read, now, response.Header.Get("Last-Modified")
	c.expires = expires(response.Header, now)
	return nil
}

// expires is until when an answer need not be asked for again.
func expires(header http.Header, now time.Time) time.Time {
	at, err := http.ParseTime(header.Get("Expires"))
	if err != nil || at.Before(now.Add(minHold)) {
		return now.Add(minHold)
	}
	if latest := now.Add(maxHold); at.After(latest) {
		return latest
	}
	return at
}

// declined tells why the service gave no forecast, and keeps quiet for a while where it is busy.
func (e *Endpoint) declined(response *http.Response, now time.Time) *Error {
	status := response.StatusCode
	switch {
	case status == http.StatusTooManyRequests || status == http.StatusServiceUnavailable:
		e.rest(now.Add(restFor(response.Header.Get("Retry-After"), now)))
		return later(nil, "it is busy or was asked too often (HTTP %d)", status)
	case status >= 500 || status == http.StatusRequestTimeout:
		return later(nil, "it failed (HTTP %d)", status)
	case status == http.StatusForbidden || status == http.StatusUnauthorized:
		return refused(fmt.Sprintf("it does not let this server ask (HTTP %d); whoever runs the server looks at forecast_user_agent and the service's terms", status))
	case status == http.StatusNotFound || status == http.StatusUnprocessableEntity || status == http.StatusBadRequest:
		return refused(fmt.Sprintf("it has no forecast for that place, or not at that address (HTTP %d)", status))
	}
	return refused(fmt.Sprintf("it answered in a way that is not expected (HTTP %d)", status))
}

// restFor reads Retry-After (RFC 9110, section 10.2.3): seconds or a date.
func restFor(text string, now time.Time) time.Duration {
	wait := 10 * time.Minute
	if seconds, err := strconv.ParseUint(text, 10, 31); err == nil {
		wait = time.Duration(seconds) * time.Second
	} else if at, err := http.ParseTime(text); err == nil {
		wait = at.Sub(now)
	}
	return min(max(wait, minRest), maxRest)
}

// onTheWay says in words why a request failed on the way; otherwise is what is said of a cause that has no words here.
func onTheWay(err error, otherwise string) *Error {
	var own *Error
	var slow net.Error
	var asked *url.Error
	switch {
	case errors.As(err, &own):
		return own
	case errors.As(err, &slow) && slow.Timeout():
		return later(err, "it did not answer in time")
	case errors.Is(err, io.ErrUnexpectedEOF):
		return later(err, "its answer was cut short")
	}
	if errors.As(err, &asked) {
		err = asked.Err // without the address, which has the place in it
	}
	if strings.Contains(err.Error(), "certificate") {
		return later(err, "its certificate was not accepted")
	}
	return later(err, "%s", otherwise)
}
