package web_test

import (
	"net/http"
	"os"
	"testing"

	"gritward/internal/demo"
)

func TestRosterPages(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.signIn(demo.Member)
	for name, path := range map[string]string{"ride": "/" + w.ride(), "roster": "/" + w.ride() + "/rosters/1", "rosters": "/" + w.ride() + "/rosters", "rides": "/" + w.club() + "/rides"} {
		b.open(path).is(http.StatusOK)
		t.Log(name, len(b.page))
		os.WriteFile("/tmp/wr-"+name+".html", []byte(b.page), 0o644)
	}
}
