package web

import (
	"context"
	"errors"
	"mime/multipart"
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

const (
	// maxForm is the most that a form may bring, in bytes.
	maxForm = 256 << 10
	// maxUpload is the most that a form with a file may bring: a route of 16 MiB, and what goes round it.
	maxUpload = 17 << 20
	// memory is how much of a file is held in memory; the rest goes into a temporary file.
	memory = 1 << 20
	// uploading is how long a form with a file may take to arrive: 16 MiB at 30 kB/s.
	uploading = 10 * time.Minute
)

// visit is one request of somebody who is signed in.
type visit struct {
	*site
	w   http.ResponseWriter
	r   *http.Request
	ctx context.Context
	// who is here; nil on a page that is open to anyone.
	who *pb.WhoAmIResponse
	// once tells one filling-in of a form from another, so that what is sent twice is done once.
	once string
}

// page answers a visit: it shows a page or leads to another, or gives back what stands in the way.
type page func(*visit) error

// show serves a page to those who are signed in, at "/path" or "GET /path".
func (s *site) show(pattern string, answer page) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) { s.visited(w, r, answer, maxForm) })
}

// take is show for a form that is sent to "/path".
func (s *site) take(path string, answer page) { s.show("POST "+path, answer) }

// takeFile is take for a form that brings a file.
func (s *site) takeFile(path string, answer page) {
	s.mux.HandleFunc("POST "+path, func(w http.ResponseWriter, r *http.Request) {
		_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(uploading)) // the socket's own clock
		s.visited(w, r, answer, maxUpload)
	})
}

// visited looks who is here, and answers.
func (s *site) visited(w http.ResponseWriter, r *http.Request, answer page, most int64) {
	v := s.visitOf(w, r)
	if err := v.read(most); err != nil {
		v.fail(err)
		return
	}
	token := s.token(r)
	if token == "" {
		v.askIn(nil)
		return
	}
	v.ctx = metadata.AppendToOutgoingContext(v.ctx, "authorization", "Bearer "+token)
	who, err := s.clubs.WhoAmI(v.ctx, &pb.WhoAmIRequest{})
	if err == nil {
		v.who = who
		err = answer(v)
	}
	if err != nil {
		v.fail(err)
	}
}

func (s *site) visitOf(w http.ResponseWriter, r *http.Request) *visit {
	return &visit{site: s, w: w, r: r, ctx: s.CallFor(r.Context(), s.remote(r))}
}

// read reads the form that came, if any.
func (v *visit) read(most int64) error {
	if v.r.Method != http.MethodPost {
		return nil
	}
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, most)
	err := v.r.ParseForm()
	if err == nil && strings.HasPrefix(v.r.Header.Get("Content-Type"), "multipart/") {
		err = v.r.ParseMultipartForm(memory)
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return fault.New(pb.Reason_MESSAGE_TOO_LARGE, "more was sent than is taken (%d kB at most)", most>>10)
	case err != nil:
		return fault.New(pb.Reason_FIELD_INVALID, "the form did not arrive whole; send it again")
	}
	return nil
}

// file is a file that came with the form; nil when none was chosen.
func (v *visit) file(name string) (*multipart.FileHeader, multipart.File, error) {
	file, header, err := v.r.FormFile(name)
	if errors.Is(err, http.ErrMissingFile) || err == nil && header.Size == 0 && header.Filename == "" {
		return nil, nil, nil
	}
	return header, file, err
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
		path += "?done=" + url.QueryEscape(done)
	}
	http.Redirect(v.w, v.r, path, http.StatusSeeOther)
	return nil
}

// nowhere says that there is no such page.
func (v *visit) nowhere() error { return fault.New(pb.Reason_NOT_FOUND, "there is no such page") }
