package web_test

import (
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc/metadata"

	"gritward/internal/demo"
	"gritward/internal/ledger"
	"gritward/internal/lull"
	"gritward/internal/names"
	"gritward/internal/seal"
	"gritward/internal/server"
	"gritward/internal/store/bolt"
	"gritward/internal/web"
	pb "gritward/proto/gritward/v1"
)

// world is the invented club of the demo on the Friday before its Sunday, with its roster published, and its pages on a real
// socket over a real store.
type world struct {
	t     testing.TB
	story *demo.Story
	clock *demo.Clock
	conn  *server.InsideConn
	// pages is the address of the pages, and front what serves them there.
	pages string
	front *httptest.Server
	log   *slog.Logger
	// signal is the way to the pages.
	signal *signal
	// stop has the server end what is under way.
	stop func()
	// pauses is told of each call.
	pauses atomic.Pointer[lull.Pauses]
	// ahead makes in pauses what was asked for.
	ahead *server.Ahead
	// grownLast is who signed up last of those that grown added.
	grownLast string
}

func newWorld(t testing.TB, set ...func(*web.Config)) *world {
	t.Helper()
	if _, is := t.(*testing.T); is {
		web.DistrustAnswers(func(kind string) { panic("a shared " + kind + " was changed") })
	}
	clock := demo.NewClock()
	opened, err := bolt.Open(bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	keys, err := seal.New()
	if err != nil {
		t.Fatal(err)
	}
	ending, stop := context.WithCancel(context.Background())
	l := ledger.New(opened, clock.Now)
	log := slog.New(slog.NewTextHandler(testLog{t}, &slog.HandlerOptions{Level: slog.LevelWarn}))
	front := httptest.NewUnstartedServer(nil)
	way := &signal{Listener: front.Listener}
	front.Listener = way
	address := "http://" + front.Listener.Addr().String()
	w := &world{t: t, clock: clock, pages: address, front: front, log: log, signal: way, stop: stop, ahead: server.NewAhead()}
	w.pauses.Store(new(lull.Pauses))
	answering, err := server.New(server.Config{Ledger: l, Keys: keys, Log: log, MemberID: demo.MemberIDs(), Ending: ending, PagesAddress: address, Ahead: w.ahead, Called: func() { w.pauses.Load().Called() }})
	if err != nil {
		t.Fatal(err)
	}
	inside := server.NewInside()
	served := make(chan error, 1)
	go func() { served <- answering.Serve(inside) }()
	if w.conn, err = inside.Conn(); err != nil {
		t.Fatal(err)
	}
	if w.story, err = demo.Play(t.Context(), l, w.conn, clock); err != nil {
		t.Fatal(err)
	}
	config := web.Config{Conn: w.conn, CallFor: server.CalledFor, Address: address, Log: log, Now: clock.Now, Ending: ending}
	for _, one := range set {
		one(&config)
	}
	handler, err := web.New(config)
	if err != nil {
		t.Fatal(err)
	}
	front.Config.Handler = handler
	front.Start()
	t.Cleanup(func() {
		stop()
		front.Close()
		answering.Stop()
		_ = w.conn.Close()
		if err := <-served; err != nil {
			t.Error(err)
		}
		if err := opened.Close(); err != nil {
			t.Error(err)
		}
	})
	return w
}

// signal is a listener that can be cut off: connections end, and new ones end at once.
type signal struct {
	net.Listener
	mu   sync.Mutex
	gone bool
	open []net.Conn
}

// Accept takes the next connection.
func (s *signal) Accept() (net.Conn, error) {
	conn, err := s.Listener.Accept()
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.gone {
		_ = conn.Close()
	}
	s.open = append(s.open, conn)
	return conn, nil
}

// cut takes the signal away, or gives it back.
func (s *signal) cut(gone bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.gone = gone
	if gone {
		for _, conn := range s.open {
			_ = conn.Close()
		}
		s.open = nil
	}
}

// testLog is a log that a test shows when it fails.
type testLog struct{ t testing.TB }

func (l testLog) Write(p []byte) (int, error) {
	l.t.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}

// as is a context for calls in a member's name.
func (w *world) as(name string) context.Context {
	return metadata.AppendToOutgoingContext(context.Background(), "authorization", "Bearer "+w.story.Tokens[name])
}

// member is a member's record's name, ride that of Sunday's ride, club that of the club.
func (w *world) member(name string) string { return w.story.Names[name] }
func (w *world) ride() string              { return w.story.Ride.Name }
func (w *world) club() string              { return names.Club(names.Part(w.ride(), "clubs")) }

// invite makes an invite for one more device of a member, and gives its code.
func (w *world) invite(name string) string {
	w.t.Helper()
	made, err := pb.NewClubServiceClient(w.conn).CreateInvite(w.as(demo.Secretary),
		&pb.CreateInviteRequest{Parent: w.club(), Invite: &pb.Invite{ForMember: w.member(name)}})
	if err != nil {
		w.t.Fatal(err)
	}
	return made.Code
}

// browser is somebody with a browser that runs no script.
type browser struct {
	w      *world
	client *http.Client
	// at is the path where the browser is, status and page what it was last shown there.
	at     string
	status int
	page   string
	// file tells that it was a file to keep, not a page to look at.
	file bool
}

// stranger is a browser in which nobody is signed in.
func (w *world) stranger() *browser {
	jar, err := cookiejar.New(nil)
	if err != nil {
		w.t.Fatal(err)
	}
	return &browser{w: w, client: &http.Client{Jar: jar, Timeout: time.Minute}}
}

// signIn is the browser of a member, signed in by the link of an invite.
func (w *world) signIn(name string) *browser {
	w.t.Helper()
	b := w.stranger()
	code := w.invite(name)
	b.open("/join/" + code)
	b.send("/join", url.Values{"code": {code}, "device": {"phone"}, "then": {"/"}})
	if b.status != http.StatusOK || b.at != "/" {
		w.t.Fatalf("signing in led to %d at %s:\n%s", b.status, b.at, b.page)
	}
	return b
}

// open opens a page.
func (b *browser) open(path string) *browser {
	b.w.t.Helper()
	response, err := b.client.Get(b.w.pages + path)
	return b.shown(response, err)
}

// send sends a form as a page of the site would.
func (b *browser) send(path string, form url.Values) *browser {
	b.w.t.Helper()
	return b.post(path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

// post sends any body.
func (b *browser) post(path, kind string, body io.Reader) *browser {
	b.w.t.Helper()
	request, err := http.NewRequest(http.MethodPost, b.w.pages+path, body)
	if err != nil {
		b.w.t.Fatal(err)
	}
	request.Header.Set("Content-Type", kind)
	request.Header.Set("Sec-Fetch-Site", "same-origin")
	response, err := b.client.Do(request)
	return b.shown(response, err)
}

func (b *browser) shown(response *http.Response, err error) *browser {
	b.w.t.Helper()
	if err != nil {
		b.w.t.Fatal(err)
	}
	defer func() { _ = response.Body.Close() }()
	page, err := io.ReadAll(response.Body)
	if err != nil {
		b.w.t.Fatal(err)
	}
	b.at, b.status, b.page = response.Request.URL.Path, response.StatusCode, string(page)
	b.file = strings.HasPrefix(response.Header.Get("Content-Disposition"), "attachment")
	return b
}

var tags = regexp.MustCompile(`(?s)<script.*?</script>|<[^>]*>`)

// text is what the page says, without its elements, white space made single.
func (b *browser) text() string {
	return strings.Join(strings.Fields(strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&", "&#43;", "+", "&lt;", "<", "&gt;", ">").Replace(tags.ReplaceAllString(b.page, " "))), " ")
}

// says fails the test when the page does not say each of these.
func (b *browser) says(words ...string) *browser {
	b.w.t.Helper()
	for _, word := range words {
		if !strings.Contains(b.text(), word) {
			b.w.t.Errorf("%s (%d) does not say %q:\n%s", b.at, b.status, word, b.text())
		}
	}
	return b
}

// saysNot fails the test when the page says any of these.
func (b *browser) saysNot(words ...string) *browser {
	b.w.t.Helper()
	for _, word := range words {
		if strings.Contains(b.text(), word) {
			b.w.t.Errorf("%s (%d) says %q:\n%s", b.at, b.status, word, b.text())
		}
	}
	return b
}

// is fails the test when the page was not answered with the status.
func (b *browser) is(status int) *browser {
	b.w.t.Helper()
	if b.status != status {
		b.w.t.Errorf("%s was answered with %d, want %d:\n%s", b.at, b.status, status, b.text())
	}
	return b
}

// people are three who look at pages in these tests, by what they are.
var people = []struct{ is, name string }{{"secretary", demo.Secretary}, {"leader", demo.Leader}, {"member", demo.Member}}
