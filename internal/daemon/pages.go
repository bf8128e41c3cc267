package daemon

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"google.golang.org/grpc"

	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/web"
)

const (
	// pageTimeout bounds how long a browser may take over a request, and over what it is sent; forms with a file have longer.
	pageTimeout = time.Minute
	// maxPageHeader is the most that the headers of a request may take, in bytes.
	maxPageHeader = 16 << 10
)

// pages are served beside the gRPC server, and call it from within the process.
type pages struct {
	listener net.Listener
	inside   *server.Inside
	conn     *server.InsideConn
	http     *http.Server
	visits   visits
	// serving is whoever takes connections.
	serving sync.WaitGroup
	// address is where browsers find them.
	address string
}

// pagesAt makes the pages for browsers that come to a listener, as the settings say; nil: there are none.
func pagesAt(s settings.Server, listener net.Listener, secure *tls.Config, config *server.Config) (*pages, error) {
	if listener == nil {
		return nil, nil
	}
	address := s.PagesAddress
	if address == "" {
		address = "http://" + listener.Addr().String()
		secure = nil
	}
	proxied := s.PagesProxied()
	if proxied {
		secure = nil
	}
	if secure == nil && !settings.IsLoopback(s.PagesListen) {
		return nil, errors.New("pages beyond this machine need TLS")
	}
	config.PagesAddress = s.PagesAddress // codes on paper open nothing that is for this machine only
	shown := web.Config{Address: address, Proxied: proxied, TilesAddress: s.TilesAddress, TilesCredit: s.TilesCredit,
		WeatherService: s.ForecastURL != ""}
	return openPages(listener, secure, shown, *config)
}

// openPages makes the pages, of which is told where they are and what they show.
func openPages(listener net.Listener, secure *tls.Config, shown web.Config, config server.Config) (*pages, error) {
	p := &pages{inside: server.NewInside(), address: shown.Address}
	var err error
	if p.conn, err = p.inside.Conn(); err != nil {
		return nil, err
	}
	shown.Conn, shown.CallFor, shown.Log, shown.Now, shown.Ending = p.conn, server.CalledFor, config.Log, config.Ledger.Now, config.Ending
	handler, err := web.New(shown)
	if err != nil {
		return nil, err
	}
	if !shown.Proxied {
		listener = config.Limits.Listener(listener, config.Counters)
	}
	p.listener = listener
	if secure != nil {
		secure = secure.Clone()
		secure.NextProtos = append([]string{"h2", "http/1.1"}, secure.NextProtos...)
		p.listener = tls.NewListener(listener, secure)
	}
	p.http = &http.Server{Handler: handler, ReadHeaderTimeout: pageTimeout, ReadTimeout: pageTimeout, WriteTimeout: pageTimeout, IdleTimeout: pageTimeout,
		MaxHeaderBytes: maxPageHeader, ConnState: p.visits.note, ErrorLog: slog.NewLogLogger(config.Log.Handler(), slog.LevelDebug)}
	return p, nil
}

// serve answers browsers until end.
func (p *pages) serve(answering *grpc.Server) {
	if p == nil {
		return
	}
	go func() { _ = answering.Serve(p.inside) }()
	p.serving.Go(func() { _ = p.http.Serve(p.listener) })
}

// end lets pages under way finish. The gRPC server stops after it.
func (p *pages) end() {
	if p == nil {
		return
	}
	p.finish()
	_ = p.conn.Close()
}

// finish takes nobody else, and has every browser that asked something answered, for as long as drain.
func (p *pages) finish() {
	ctx, cancel := context.WithTimeout(context.Background(), drain)
	defer cancel()
	_ = p.listener.Close() // else there would always be somebody who has just come
	p.serving.Wait()       // who came is among the visits now
	p.http.SetKeepAlivesEnabled(false)
	p.visits.end(ctx)
	if p.http.Shutdown(ctx) != nil {
		_ = p.http.Close()
	}
}
