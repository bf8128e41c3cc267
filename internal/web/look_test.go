package web

import (
	"io/fs"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
)

// TestTemplatesHaveNamesOfTheirOwn: all templates are one set, in which the later of two with one name would take the place of the other.
func TestTemplatesHaveNamesOfTheirOwn(t *testing.T) {
	t.Parallel()
	defined := regexp.MustCompile(`{{-? *(?:define|block) "([^"]*)"`)
	in := map[string]string{}
	err := fs.WalkDir(written, "templates", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := fs.ReadFile(written, path)
		for _, found := range defined.FindAllSubmatch(text, -1) {
			name := string(found[1])
			if in[name] != "" {
				t.Errorf("%q is defined in %s and in %s", name, in[name], path)
			}
			in[name] = path
		}
		return err
	})
	if err != nil || len(in) < 60 {
		t.Errorf("%d templates, error %v", len(in), err)
	}
}

// TestToldToTheLog: a log names the page that failed, without what lets its reader in.
func TestToldToTheLog(t *testing.T) {
	t.Parallel()
	for path, want := range map[string]string{
		"/join/abcdef": "GET /join/{code}", "/shared/marrowdale.abcdef": "GET /shared/{key}", "/clubs/marrowdale/rides": "/clubs/marrowdale/rides",
	} {
		var got string
		mux := http.NewServeMux()
		for _, pattern := range []string{"GET /join/{code}", "GET /shared/{key}", "GET /clubs/{club}/rides"} {
			mux.HandleFunc(pattern, func(_ http.ResponseWriter, r *http.Request) { got = told(r) })
		}
		mux.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, path, nil))
		if got != want {
			t.Errorf("%s is told as %s, want %s", path, got, want)
		}
	}
}

// TestDocumentThatWasNotSent: what a Write that failed had is made nothing else of, since it may be read still: net/http's returns so over
// HTTP/2 when the browser takes its request back (writeDataFromHandler of its h2_bundle.go), with the frame on its way.
func TestDocumentThatWasNotSent(t *testing.T) {
	t.Parallel()
	files, err := readFiles()
	if err != nil {
		t.Fatal(err)
	}
	l, err := readLooks(files)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 50 { // a pool gives back what it pleases
		var held []byte
		gone := func(page []byte) error { held = page; return http.ErrAbortHandler }
		if err := l.document("plain", sheet{Title: "One", Main: "of one member"}, gone); err != nil {
			t.Fatal(err)
		}
		was := string(held)
		sent := ""
		for range 3 {
			if err := l.document("plain", sheet{Title: "Two", Main: "of another"}, func(page []byte) error { sent = string(page); return nil }); err != nil {
				t.Fatal(err)
			}
		}
		if string(held) != was || !strings.Contains(was, "of one member") || !strings.Contains(sent, "of another") {
			t.Fatalf("round %d: the page on its way became %.80q", i, held)
		}
	}
}
