//go:build browser

package web_test

import (
	"sync"
	"testing"
)

// TestBrowserEveryPage looks at every kind of page that links lead a secretary, a leader and a member to: on a phone by day, and
// each kind once on a desk by night, held against axe-core, and by the tabulator from end to end; and holds their HTML against the
// validator.
func TestBrowserEveryPage(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	all, seen := map[string]string{}, map[string]bool{}
	var mu sync.Mutex
	t.Run("people", func(t *testing.T) {
		for _, who := range people {
			t.Run(who.is, func(t *testing.T) {
				t.Parallel()
				pages := walk(t, w.signIn(who.name), false)
				t.Logf("%d pages, %d kinds", len(pages), len(kinds(pages)))
				mu.Lock()
				for path, page := range pages {
					all[who.is+" "+path] = page
				}
				mu.Unlock()
				day, night := w.tabOf(t, who.is, phone, true).signIn(who.name), w.tabOf(t, who.is, desk, true).dark().signIn(who.name)
				for _, path := range kinds(pages) {
					day.open(path).checked("day " + shapeOf(path))
					mu.Lock()
					first := !seen[shapeOf(path)]
					seen[shapeOf(path)] = true
					mu.Unlock()
					if first { // by night somebody else's looks no different
						night.open(path).checked("night " + shapeOf(path)).round(shapeOf(path))
					}
				}
			})
		}
	})
	valid(t, all)
}

// TestBrowserEveryLink follows every link as a secretary, a leader and a member: each leads somewhere, for that person.
func TestBrowserEveryLink(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, who := range people {
		walk(t, w.signIn(who.name), true)
	}
}
