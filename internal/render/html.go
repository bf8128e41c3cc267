package render

import (
	"bytes"
	"embed"
	"html/template"
	"io"
	"sync"

	pb "gritward/proto/gritward/v1"
)

//go:embed templates
var files embed.FS

// templates are parsed once, by who first writes one: a program that writes none starts sooner. Nothing changes them afterwards.
var templates = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{"tidy": tidy}).ParseFS(files, "templates/*.tmpl"))
})

// HTML writes r as one page complete in itself: no script, nothing loaded from elsewhere, good on a telephone and on
// paper, where each group begins a sheet and the brief follows. A ride that is called off, and what changed since the issue,
// stand before everything else. Nothing is written if it cannot be made whole; otherwise
// the error is the writer's.
func HTML(w io.Writer, r *pb.Roster) error {
	css, err := files.ReadFile("templates/page.css")
	if err != nil {
		return err
	}
	var b bytes.Buffer
	s := newSheet(r)
	v := newView(s)
	v.CSS, v.Code = template.CSS(css), CodeOf(s.GetPageUrl())
	v.Light = newDrawing(s.plan(), s.watch, frame{id: "light-narrow", width: narrowWidth})
	v.WideLight = newDrawing(s.plan(), s.watch, frame{id: "light-wide", width: wideWidth})
	if err := templates().ExecuteTemplate(&b, "page.html.tmpl", v); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}
