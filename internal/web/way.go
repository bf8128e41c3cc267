package web

import "strings"

// way is a link in the list of pages.
type way struct {
	Path, Label string
	// Here: this page, or one below it, is shown.
	Here bool
}

func wayTo(s sheet, path, label string) way {
	return way{path, label, s.Path == path || strings.HasPrefix(s.Path, path+"/") && !strings.Contains(path, "/members/")}
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
