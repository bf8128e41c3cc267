package web

import "strings"

// way is a link in the list of pages.
type way struct {
	Path, Label string
	// Here: this page, or one below it, is shown.
	Here bool
}

// wayTo is a way to a page. What is below one's own record counts as Me, but for one's bikes; not as Members.
func wayTo(s sheet, path, label string) way {
	mine, below := "/"+s.Me.GetName(), strings.HasPrefix(s.Path, path+"/")
	own := s.Path == mine || strings.HasPrefix(s.Path, mine+"/")
	switch {
	case path == mine:
		below = own && !strings.HasPrefix(s.Path, mine+"/bikes")
	case strings.HasSuffix(path, "/members"):
		below = below && !own || s.Path == strings.TrimSuffix(path, "members")+"invites"
	}
	return way{path, label, s.Path == path || below}
}

// named is a field that something is wrong with.
type named struct{ ID, Label string }

// labelled finds the field that a path is about, so that what is wrong leads there; nil when the page has none.
func labelled(s sheet, path string) *named {
	label, ok := s.Form.labels[path]
	if !ok {
		return nil
	}
	return &named{Field{Name: path}.ID(), label}
}
