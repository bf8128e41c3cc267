package web_test

import (
	"regexp"
	"testing"

	"gritward/internal/server"
	"gritward/internal/web"
)

// oncePart is what tells one filling-in of a form from another.
var oncePart = regexp.MustCompile(`name="once" value="[^"]*"`)

// TestPagesWithAndWithoutWhatIsKept: whoever looks, after whomever, every page is byte for byte what it is where nothing was drawn
// before, so nobody is shown what was kept of somebody else's, and nothing kept is out of date.
func TestPagesWithAndWithoutWhatIsKept(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	kept := w.front.Config.Handler
	browsers := map[string]*browser{}
	for _, who := range people {
		browsers[who.name] = w.signIn(who.name)
		walk(t, browsers[who.name], false) // draws everything
	}
	for _, who := range people {
		b := browsers[who.name]
		for path, page := range walk(t, b, false) {
			fresh, err := web.New(web.Config{Conn: w.conn, CallFor: server.CalledFor, Address: w.pages, Log: w.log, Now: w.clock.Now})
			if err != nil {
				t.Fatal(err)
			}
			w.front.Config.Handler = fresh
			b.open(path)
			w.front.Config.Handler = kept
			if oncePart.ReplaceAllString(page, "") != oncePart.ReplaceAllString(b.page, "") {
				t.Errorf("%s is not shown %s with what was kept as without", who.is, path)
			}
		}
	}
}
