package web_test

import (
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// maxVisits bounds how many pages of one person are read.
const maxVisits = 300

var links = regexp.MustCompile(`<a [^>]*href="(/[^"#]*)`)

// named are the collections whose next part is the name of a record; fixed are parts that stand there and are none.
var (
	named = []string{"clubs", "members", "rides", "riders", "bikes", "rosters", "policies", "signups", "incidents", "invites", "devices", "shared", "groups", "declarations"}
	fixed = []string{"new", "edit", "compare"}
)

// shapeOf is what pages of one kind have in common in their address.
func shapeOf(path string) string {
	path, _, _ = strings.Cut(path, "?")
	parts := strings.Split(strings.Trim(path, "/"), "/")
	for i := 1; i < len(parts); i++ {
		if slices.Contains(named, parts[i-1]) && !slices.Contains(fixed, parts[i]) {
			parts[i] = "*"
		}
	}
	return "/" + strings.Join(parts, "/")
}

// walk follows every link that somebody finds, and gives the pages by their address. Whole: every page is read, not only
// some of each kind.
func walk(t testing.TB, b *browser, whole bool) map[string]string {
	t.Helper()
	found, waiting, seen, of := map[string]string{}, []string{"/"}, map[string]bool{"/": true}, map[string]int{}
	for len(waiting) > 0 && len(found) < maxVisits {
		path := waiting[0]
		waiting = waiting[1:]
		b.open(path)
		if b.status != http.StatusOK {
			t.Errorf("%s is linked and answers %d:\n%s", path, b.status, b.text())
			continue
		}
		if b.file || !strings.HasPrefix(strings.ToLower(b.page), "<!doctype html>") {
			continue
		}
		found[path] = b.page
		for _, link := range links.FindAllStringSubmatch(b.page, -1) {
			to := html.UnescapeString(link[1])
			if shape := shapeOf(to); !seen[to] && (whole || of[shape] < 3) {
				seen[to] = true
				of[shape]++
				waiting = append(waiting, to)
			}
		}
	}
	return found
}

// kinds picks one page of each kind.
func kinds(pages map[string]string) (paths []string) {
	by := map[string]string{}
	for path := range pages {
		shape := shapeOf(path)
		if other, ok := by[shape]; !ok || len(path) < len(other) || len(path) == len(other) && path < other {
			by[shape] = path
		}
	}
	for _, path := range by {
		paths = append(paths, path)
	}
	slices.Sort(paths)
	return paths
}
