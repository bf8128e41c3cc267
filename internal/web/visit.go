package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc/metadata"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// uploading is how long a form with a file may take to arrive: 16 MiB at 30 kB/s.
const uploading = 10 * time.Minute

// visit is one request of somebody who is signed in.
type visit struct {
	*site
	w   http.ResponseWriter
	r   *http.Request
	ctx context.Context
	// who is here; nil on a page that is open to anyone.
	who *pb.WhoAmIResponse
	// nobody: it is known that nobody is signed in on the device, not only that the page is open to anyone.
	nobody bool
	// uploads are the files that came with the form.
	uploads []*upload
}

// page answers a visit: it shows a page or leads to another, or gives back what stands in the way.
type page func(*visit) error

// show serves a page to those who are signed in, at "/path" or "GET /path".
func (s *site) show(pattern string, answer page) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) { s.visited(w, r, answer, false) })
}

// take is show for a form that is sent to "/path".
func (s *site) take(path string, answer page) { s.show("POST "+path, answer) }

// takeFile is take for a form that brings a file.
func (s *site) takeFile(path string, answer page) {
	s.mux.HandleFunc("POST "+path, func(w http.ResponseWriter, r *http.Request) {
		clocks := http.NewResponseController(w)
		_ = clocks.SetReadDeadline(time.Now().Add(uploading)) // the socket's own clock
		_ = clocks.SetWriteDeadline(time.Now().Add(uploading + time.Minute))
		s.visited(w, r, answer, true)
	})
}

// visited looks who is here, and answers. Who is not signed in loses nothing of what was typed.
func (s *site) visited(w http.ResponseWriter, r *http.Request, answer page, files bool) {
	v := s.visitOf(w, r)
	defer v.drop()
	var err error
	token := s.token(r)
	if token != "" {
		v.ctx = metadata.AppendToOutgoingContext(v.ctx, "authorization", "Bearer "+token)
		v.who, err = s.clubs.WhoAmI(v.ctx, &pb.WhoAmIRequest{})
	}
	unread := v.read(files)
	legible(v.r.PostForm)
	switch {
	case unread != nil:
		v.fail(unread)
	case token == "":
		v.askIn(nil)
	default:
		if err == nil {
			err = answer(v)
		}
		if err != nil {
			v.fail(err)
		}
	}
}

func (s *site) visitOf(w http.ResponseWriter, r *http.Request) *visit {
	return &visit{site: s, w: w, r: r, ctx: s.CallFor(r.Context(), s.remote(r))}
}

// form is what was filled in.
func (v *visit) form() url.Values { return v.r.PostForm }

// has tells whether who is here has a role.
func (v *visit) has(role pb.Role) bool { return slices.Contains(v.who.GetMember().GetRoles(), role) }

// me is the name of the member who is here.
func (v *visit) me() string { return v.who.GetMember().GetName() }

// club is the name of the club of who is here.
func (v *visit) club() string { return v.who.GetClub().GetName() }

// ride is the name of the ride that the path names.
func (v *visit) ride() string { return names.Ride(v.r.PathValue("club"), v.r.PathValue("ride")) }

// watch tells times in the club's zone.
func (v *visit) watch() phrase.Watch { return phrase.WatchOf(v.who.GetClub().GetZone(), nil) }

// to leads to another page, after a form was taken: going back and loading again sends nothing twice. Done names what was
// done, which that page then says (done.go).
func (v *visit) to(path, done string) error {
	if done != "" {
		joint := "?"
		if strings.Contains(path, "?") {
			joint = "&"
		}
		path += joint + "done=" + url.QueryEscape(done)
	}
	http.Redirect(v.w, v.r, path, http.StatusSeeOther)
	return nil
}

// nowhere says that there is no such page.
func (v *visit) nowhere() error { return fault.New(pb.Reason_NOT_FOUND, "there is no such page") }
