package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"syscall"
	"time"

	"gritward/internal/release"
	"gritward/internal/store/bolt"
	"gritward/internal/vitals"
)

// The operator's socket lies beside the store while a server has it open, for the user who runs the server alone. Over it goes what
// only the process that holds the store can do, by HTTP: a backup, and to tell how it is.
const (
	operatorSuffix = ".operator"
	// mostSocketPath is how long the path of a socket may be: sun_path of unix(7), without its last byte.
	mostSocketPath = 107
	// stalled is how long a reader of a backup may leave the server waiting: the writers of the store may have to wait with it.
	stalled = 30 * time.Second
)

// operatorSocket is where the operator's socket of a store is. The shorter way there is taken, since such paths may not be long.
func operatorSocket(data string) (string, error) {
	if real, err := filepath.EvalSymlinks(data); err == nil {
		data = real
	}
	path := data + operatorSuffix
	if here, err := os.Getwd(); err == nil {
		whole := path
		if !filepath.IsAbs(whole) {
			whole = filepath.Join(here, path)
		}
		for _, way := range []string{whole, relative(here, whole)} {
			if way != "" && len(way) < len(path) {
				path = way
			}
		}
	}
	if len(path) > mostSocketPath {
		return "", fmt.Errorf("the path %s has %d bytes, and that of a socket may have %d: keep the store in a folder with a shorter path", path, len(path), mostSocketPath)
	}
	return path, nil
}

func relative(from, to string) string {
	way, err := filepath.Rel(from, to)
	if err != nil {
		return ""
	}
	return way
}

// serveOperator serves the operator's socket until end is called. The server does its work without it, too: what is against it
// goes to the log.
func serveOperator(ctx context.Context, data string, opened engine, board *vitals.Board, listening map[string]string, log *slog.Logger) (end func()) {
	listener, err := listenOperator(ctx, data)
	if err != nil {
		log.Warn("there is no operator's socket: gritwardd backup works only while the server is stopped", "error", err)
		return func() {}
	}
	o := &operator{store: opened, log: log}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /backup", o.backup)
	if board != nil {
		mux.Handle("GET /healthz", board)
		mux.HandleFunc("GET /listening", func(w http.ResponseWriter, _ *http.Request) {
			_ = json.NewEncoder(w).Encode(served{Pid: os.Getpid(), Version: release.Number(), Listening: listening}) // who asked is gone
		})
	}
	answering := &http.Server{Handler: mux, ReadTimeout: operatorTimeout, BaseContext: func(net.Listener) context.Context { return ctx }}
	served := make(chan struct{})
	go func() {
		defer close(served)
		_ = answering.Serve(listener) // until it is closed
	}()
	return func() {
		_ = answering.Close()
		<-served
	}
}

// listenOperator makes the socket. One that lies there is of a server that was killed: this one has the store open.
func listenOperator(ctx context.Context, data string) (net.Listener, error) {
	path, err := operatorSocket(data)
	if err != nil {
		return nil, err
	}
	if info, err := os.Lstat(path); err == nil && info.Mode().Type() == fs.ModeSocket {
		_ = os.Remove(path)
	}
	listener, err := (&net.ListenConfig{Control: ownersOnly}).Listen(ctx, "unix", path)
	if err != nil {
		return nil, err
	}
	if err := os.Chmod(path, 0o600); err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	return listener, nil
}

type operator struct {
	store engine
	log   *slog.Logger
	busy  sync.Mutex
}

// backup answers with a backup of the store. Where it fails on the way the answer ends too soon.
func (o *operator) backup(w http.ResponseWriter, r *http.Request) {
	if !o.busy.TryLock() {
		http.Error(w, "another backup is being taken: wait for it", http.StatusConflict)
		return
	}
	defer o.busy.Unlock()
	file, is := o.store.(*bolt.Store)
	if !is {
		http.Error(w, "the store is in etcd: take its snapshots with etcdctl snapshot save", http.StatusNotImplemented)
		return
	}
	began, size := false, int64(0)
	err := file.Backup(r.Context(), &patient{w, http.NewResponseController(w)}, func(total int64) {
		w.Header().Set("Content-Length", strconv.FormatInt(total, 10))
		began, size = true, total
	})
	switch {
	case err == nil:
		o.log.Info("a backup of the store was taken", "bytes", size)
	case began:
		o.log.Warn("a backup of the store was broken off", "error", err)
		panic(http.ErrAbortHandler)
	default:
		http.Error(w, err.Error(), http.StatusInternalServerError)
	}
}

// patient gives each write its time, and no more.
type patient struct {
	io.Writer
	control *http.ResponseController
}

// Write implements io.Writer.
func (p *patient) Write(data []byte) (int, error) {
	if err := p.control.SetWriteDeadline(time.Now().Add(stalled)); err != nil {
		return 0, err
	}
	return p.Writer.Write(data)
}

// errNoServer says that no server has an operator's socket for a store.
var errNoServer = errors.New("no server answers")

// askOperator has the server that has a store open write a backup. The error has errNoServer in it where there is none to ask.
func askOperator(ctx context.Context, data string, to io.Writer, progress func(done, total int64)) error {
	answer, err := askSocket(ctx, data, "/backup")
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		said, _ := io.ReadAll(io.LimitReader(answer.Body, 1000))
		return fmt.Errorf("the server that has %s open refused: %s", data, said)
	}
	told := &telling{to: to, total: answer.ContentLength, progress: progress}
	if _, err := io.Copy(told, answer.Body); err != nil {
		return fmt.Errorf("the backup was broken off after %d of %d bytes (%w): see the server's log, and try again", told.done, told.total, err)
	}
	return nil
}

// askSocket asks the server that has a store open for what lies at a path of its operator's socket.
func askSocket(ctx context.Context, data, what string) (*http.Response, error) {
	path, err := operatorSocket(data)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errNoServer, err)
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true, DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", path)
	}}}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://operator"+what, nil)
	if err != nil {
		return nil, err
	}
	answer, err := client.Do(request)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ECONNREFUSED) {
		return nil, fmt.Errorf("%w at %s: start it, or say with --data, or --settings, which store it serves", errNoServer, path)
	}
	if err != nil {
		return nil, fmt.Errorf("the server that has %s open could not be asked: %w", data, errors.Unwrap(err))
	}
	return answer, nil
}

// telling tells how much was written.
type telling struct {
	to          io.Writer
	done, total int64
	progress    func(done, total int64)
}

// Write implements io.Writer.
func (t *telling) Write(data []byte) (int, error) {
	n, err := t.to.Write(data)
	t.done += int64(n)
	t.progress(t.done, t.total)
	return n, err
}
