package web

import (
	"net/url"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// saidSection is one system of a bike as it was declared.
type saidSection struct {
	Title string
	Facts []saidFact
	// own: somebody's own words are in it.
	own bool
}

// Whole is all of a section in one string; "" where somebody's own words are in it.
func (s saidSection) Whole() (string, error) {
	if s.own {
		return "", nil
	}
	parts := []string{s.Title}
	for _, fact := range s.Facts {
		parts = append(parts, fact.Label, fact.Value)
	}
	return together(parts...), nil
}

// saidFact is one fact, in the words of the form.
type saidFact struct{ Label, Value string }

// saidOf tells facts in the words of the form that asks for them, and leaves out what nothing was said about.
func saidOf(declared *pb.BikeFacts) []saidSection {
	form := Form{Values: filledFrom(declared, facts)}
	var all []saidSection
	add := func(title string, rows ...[]fieldRow) {
		said := saidSection{Title: title}
		for _, row := range rows {
			said.add(row)
		}
		if len(said.Facts) > 0 {
			all = append(all, said)
		}
	}
	for _, s := range form.sections() {
		for _, lamp := range s.Lamps {
			add(lamp.Title, lamp.Rows, lamp.More)
		}
		add(s.Title, s.Rows, s.More)
	}
	add("More", form.rest())
	return all
}

func (s *saidSection) add(rows []fieldRow) {
	for _, row := range rows {
		for _, field := range row {
			if value := field.inWords(); value != "" {
				s.Facts, s.own = append(s.Facts, saidFact{field.Label, value}), s.own || !field.usual()
			}
		}
	}
}

// inWords is what is filled in as a person says it; "" where nothing is.
func (f Field) inWords() string {
	for _, choice := range f.Choices {
		if choice.Value == f.Value {
			if f.Value == "" {
				return ""
			}
			return choice.Label
		}
	}
	switch {
	case f.Value == "":
		return ""
	case f.Kind == "check":
		return map[string]string{"true": "yes", "false": "no"}[f.Value]
	case f.Kind == "date":
		return dayWords(f.Value)
	case f.Unit != "":
		return f.Value + " " + f.Unit
	}
	return f.Value
}

// changedSince tells in the words of the form what one declaration says otherwise than the one before.
func changedSince(before, now *pb.BikeFacts) string {
	if before == nil {
		return "first declaration"
	}
	changed := changedLabels(saidOf(before), saidOf(now))
	const most = 3
	switch {
	case len(changed) == 0:
		return "nothing: certified again"
	case len(changed) > most:
		return phrase.List(append(changed[:most:most], phrase.Counted(len(changed)-most, "thing more", "things more")))
	}
	return phrase.List(changed)
}

// changedLabels names what is said otherwise, newly, or no more.
func changedLabels(before, now []saidSection) (changed []string) {
	had := url.Values{}
	for _, s := range before {
		for _, fact := range s.Facts {
			had.Set(s.Title+"\n"+fact.Label, fact.Value)
		}
	}
	for _, s := range now {
		for _, fact := range s.Facts {
			key := s.Title + "\n" + fact.Label
			if had.Get(key) != fact.Value {
				changed = append(changed, fact.Label+": "+fact.Value)
			}
			had.Del(key)
		}
	}
	for _, s := range before {
		for _, fact := range s.Facts {
			if had.Has(s.Title + "\n" + fact.Label) {
				changed = append(changed, fact.Label+" left out")
			}
		}
	}
	return changed
}
