package web

import (
	"bytes"
	"crypto/rand"
	"embed"
	"encoding/binary"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	"gritward/internal/trail"
	pb "gritward/proto/gritward/v1"
)

//go:embed templates
var written embed.FS

// looks are the templates of the pages, in one set. The page NAME is the template "page NAME"; what it puts into the head of the
// document, if anything, is "head NAME"; the layout goes round both, and the whole is "whole NAME".
type looks struct {
	*template.Template
	rows *drawings
}

func readLooks(files *files) (looks, error) {
	l := looks{template.New(""), &drawings{}}
	_, err := l.Funcs(template.FuncMap{
		"file": files.at, "row": l.row, "field": func(f Field) (template.HTML, error) { return l.row("field", f) },
		"way": wayTo, "labelled": labelled,
		// at is the path of a record's page, or of what lies below it.
		"at": func(name string, below ...string) string {
			return "/" + strings.Join(append([]string{name}, below...), "/")
		},
	}).Funcs(wording).ParseFS(written, "templates/shared/*.html", "templates/*.html")
	if err != nil {
		return l, err
	}
	for _, one := range l.Templates() {
		name, page := strings.CutPrefix(one.Name(), "page ")
		if !page {
			continue
		}
		whole, head := `{{template "layout above" .}}%s{{template "layout between" .}}{{template "page NAME" .}}{{template "layout below" .}}`, ""
		if l.Lookup("head "+name) != nil {
			head = `{{template "head NAME" .}}`
		}
		if _, err := l.New("whole " + name).Parse(strings.ReplaceAll(fmt.Sprintf(whole, head), "NAME", name)); err != nil {
			return l, err
		}
	}
	return l, nil
}

// whole is something of which all that its template shows can be put into one string; "" where somebody's own words are in it.
type whole interface{ Whole() (string, error) }

// row is what a template makes of one thing of many on a page, as of a field of a form. Most are the same for everybody, or when the page is
// shown again: these are kept.
func (l looks) row(name string, one whole) (template.HTML, error) {
	draw := func() (template.HTML, error) {
		var out strings.Builder
		err := l.ExecuteTemplate(&out, name, one)
		return template.HTML(out.String()), err
	}
	all, err := one.Whole()
	if err != nil {
		return "", err
	}
	if all == "" {
		return draw()
	}
	return drawn(l.rows, draw, func(made template.HTML) int { return len(made) }, name, all)
}

// together are parts in one string, each with its length before it.
func together(parts ...string) string {
	size := 0
	for _, part := range parts {
		size += len(part) + binary.MaxVarintLen16
	}
	return string(after(make([]byte, 0, size), parts...))
}

// after puts parts after other things, each with its length before it.
func after(all []byte, parts ...string) []byte {
	for _, part := range parts {
		all = append(binary.AppendUvarint(all, uint64(len(part))), part...)
	}
	return all
}

// documents are what pages are made in, before any of them is sent. Those of ordinary size are used again.
var documents = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// usualDocument is how large a document is that is kept to make another one in, bytes.
const usualDocument = 256 << 10

// document makes a page with the layout round it, and hands it on. It is another's when that has returned without an error: a Write
// that failed may be reading it still, as that of net/http does over HTTP/2 when the browser takes its request back.
func (l looks) document(look string, made sheet, send func(page []byte) error) error {
	out := documents.Get().(*bytes.Buffer)
	out.Reset()
	err := l.ExecuteTemplate(out, "whole "+look, made)
	if err == nil && send(out.Bytes()) != nil {
		return nil // who asked has gone
	}
	if out.Cap() <= usualDocument {
		documents.Put(out)
	}
	return err
}

// sheet is what a template sees.
type sheet struct {
	// Title names the page.
	Title string
	// Club is the title of the club; "" where nobody is signed in.
	Club string
	// Me is who is here; nil where nobody is signed in.
	Me *pb.Member
	// Nobody: nobody is signed in on the device. A page that is open to anyone, and one of a failure, do not know.
	Nobody bool
	// Home is the name of the club's record.
	Home string
	// Path is where the page is.
	Path string
	// Done says what was just done; "" on other visits.
	Done string
	// Problem is what stands in the way; nil: nothing.
	Problem *fault.Error
	// Form is what is or was filled in.
	Form Form
	// Watch tells times in the club's zone.
	Watch phrase.Watch
	// Main is what this page alone shows.
	Main any
}

// Leads tells whether who is here is a leader.
func (s sheet) Leads() bool { return s.is(pb.Role_LEADER) }

// Keeps tells whether who is here is a secretary.
func (s sheet) Keeps() bool { return s.is(pb.Role_SECRETARY) }

// Guest tells whether who is here is a guest of one ride.
func (s sheet) Guest() bool { return s.is(pb.Role_GUEST) }

// For is the sheet about one thing of several that the page shows, for a part that is the same for each.
func (s sheet) For(one any) sheet {
	s.Main = one
	return s
}

func (s sheet) is(role pb.Role) bool { return slices.Contains(s.Me.GetRoles(), role) }

// put shows a page.
func (v *visit) put(status int, look, title string, main any) { v.fill(status, look, title, main, nil) }

// view is put for a page that is all right.
func (v *visit) view(look, title string, main any) error {
	v.put(http.StatusOK, look, title, main)
	return nil
}

// fill shows a page, with what stands in the way and what was filled in. The page is made whole before any of it is sent.
func (v *visit) fill(status int, look, title string, main any, problem *fault.Error) {
	made := sheet{Title: title, Path: v.r.URL.Path, Problem: problem, Done: done[v.r.URL.Query().Get("done")], Main: main,
		Form: v.newForm(problem), Club: v.who.GetClub().GetTitle(), Home: v.club(), Me: v.who.GetMember(), Nobody: v.nobody, Watch: v.watch()}
	if form, ok := main.(interface{ filled(*Form) }); ok {
		form.filled(&made.Form)
	}
	if problem != nil && len(problem.Fields) > 0 {
		_ = v.looks.ExecuteTemplate(io.Discard, "page "+look, made) // so that what is wrong, told first, knows the labels of the fields
	}
	if err := v.looks.document(look, made, func(page []byte) error { return v.send(status, page) }); err != nil {
		v.broken(err)
	}
}

// part shows a part of a page by itself, for a script to put in its place.
func (v *visit) part(status int, name string, main any) error {
	var part bytes.Buffer
	made := sheet{Path: v.r.URL.Path, Main: main, Form: v.newForm(nil), Club: v.who.GetClub().GetTitle(), Home: v.club(), Me: v.who.GetMember(), Watch: v.watch()}
	if err := v.looks.ExecuteTemplate(&part, name, made); err != nil {
		return err
	}
	_ = v.send(status, part.Bytes()) // who asked may have gone
	return nil
}

func (v *visit) send(status int, page []byte) error { return send(v.w, status, page) }

func send(w http.ResponseWriter, status int, page []byte) error {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, err := w.Write(page)
	return err
}

// broken tells the log, and the person that it was not they.
func (v *visit) broken(err error) {
	v.Log.ErrorContext(v.r.Context(), "page", "path", told(v.r), "error", err)
	v.plain(v.w, v.r, http.StatusInternalServerError, "The server failed", "What you typed before is still there: go back, and try again. "+
		"If it fails again, tell whoever runs the server the number of this request, by which its log says more: "+trail.Of(v.r.Context()))
}

// told is the path of a request as a log may have it: without what lets its reader in.
func told(r *http.Request) string {
	for _, secret := range []string{"code", "key"} {
		if r.PathValue(secret) != "" {
			return r.Pattern
		}
	}
	return r.URL.Path
}

// plain is a page without a template of its own, for when little is known.
func (s *site) plain(w http.ResponseWriter, r *http.Request, status int, title, words string) {
	made := sheet{Title: title, Path: r.URL.Path, Main: words}
	if err := s.looks.document("plain", made, func(page []byte) error { return send(w, status, page) }); err != nil {
		http.Error(w, title+". "+words, status)
	}
}

// newOnce draws what tells one filling-in of a form from another.
func newOnce() string { return rand.Text() }
