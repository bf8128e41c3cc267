package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"

	"gritward/internal/render"
)

//go:embed static
var embedded embed.FS

// styles are put together into one file, in this order of their names.
const styles = "static/style"

// files are the scripts, the styles and the pictures of the pages, each under a name that holds its digest, so that a browser
// may keep it for ever.
type files struct {
	byName map[string]file
	// names are those under which pages name them, by what they are called here.
	names map[string]string
}

type file struct {
	content []byte
	kind    string
}

func readFiles() (*files, error) {
	f := &files{byName: map[string]file{}, names: map[string]string{}}
	var style bytes.Buffer
	err := fs.WalkDir(embedded, "static", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		content, err := embedded.ReadFile(name)
		if err != nil {
			return err
		}
		if path.Dir(name) == styles {
			style.Write(content)
			return nil
		}
		f.add(path.Base(name), content)
		return nil
	})
	f.add("style.css", style.Bytes())
	if err == nil {
		var season []byte
		season, err = render.SeasonStyle()
		f.add("season.css", season)
	}
	return f, err
}

func (f *files) add(name string, content []byte) {
	digest := sha256.Sum256(content)
	kind := mime.TypeByExtension(path.Ext(name))
	stem, dot, _ := strings.Cut(name, ".")
	held := stem + "-" + hex.EncodeToString(digest[:6]) + "." + dot
	f.names[name] = "/static/" + held
	f.byName[held] = file{content, kind}
	f.byName[name] = file{content, kind} // for what asks by the plain name, such as the worker of the start line
}

// at is the path of a file.
func (f *files) at(name string) string { return f.names[name] }

func (f *files) serve(w http.ResponseWriter, r *http.Request) {
	found, ok := f.byName[r.PathValue("file")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", found.kind)
	if strings.Contains(r.PathValue("file"), "-") {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	_, _ = w.Write(found.content)
}
