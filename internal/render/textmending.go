package render

import (
	"fmt"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// mending is a rule that bikes do not meet, with whose and what would put them right.
type mending struct {
	of       *pb.Finding
	declared []string // by bike
	remedies []string
	whose    map[string][]string // by remedy
}

// mendings are what the bikes of riders who are placed do not meet, each rule once, the worst first.
func (s *sheet) mendings() (all []*mending) {
	var first []*pb.Finding
	by := map[string]*mending{}
	for _, g := range s.GetPlacement().GetGroups() {
		for _, row := range g.GetRows() {
			for _, r := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				for _, f := range unmet(r.GetFindings()) {
					key := fmt.Sprint(f.GetRule(), f.GetCheck(), f.GetStanding(), f.GetPolicyLine(), f.GetNeeded(), f.GetBecause())
					if by[key] == nil {
						by[key], first = &mending{of: f, whose: map[string][]string{}}, append(first, f)
					}
					by[key].add(s.rider(r), groupTitle(g), r.GetBikeTitle(), f)
				}
			}
		}
	}
	of := map[*pb.Finding]*mending{}
	for _, m := range by {
		of[m.of] = m
	}
	for _, f := range worstFirst(first) {
		all = append(all, of[f])
	}
	return all
}

func (m *mending) add(who, group, bike string, f *pb.Finding) {
	m.declared = append(m.declared, fmt.Sprintf("%s (%s)%s: %s", who, group, bikeAfter(bike), declared(f)))
	remedy := f.GetRemedy()
	if remedy == "" {
		return
	}
	if m.whose[remedy] == nil {
		m.remedies = append(m.remedies, remedy)
	}
	m.whose[remedy] = append(m.whose[remedy], who)
}

// mending tells each rule that placed bikes do not meet once, and each remedy once, with whom it is for.
func (t *page) mending(s *sheet) {
	all := s.mendings()
	if len(all) == 0 {
		return
	}
	t.heading("Bikes to put right")
	for _, m := range all {
		t.point(fmt.Sprintf("%s (%s). Needed: %s.", about(m.of), standingAt(m.of), phrase.FirstOf(m.of.GetNeeded(), "what rule "+m.of.GetRule()+" says")))
		for _, one := range m.declared {
			t.para(4, phrase.Stopped(one))
		}
		for _, remedy := range m.remedies {
			who := ""
			if len(m.remedies) > 1 {
				who = " (" + strings.Join(m.whose[remedy], ", ") + ")"
			}
			t.para(4, "To put it right"+who+": "+remedy)
		}
		if m.of.GetBecause() != "" {
			t.para(4, "Because: "+m.of.GetBecause())
		}
	}
}

func bikeAfter(title string) string {
	if title == "" {
		return ""
	}
	return ", " + title
}

// standingAt is a finding's standing, with the line of the policy that asks for it.
func standingAt(f *pb.Finding) string {
	if line := f.GetPolicyLine(); line > 0 {
		return fmt.Sprintf("%s, policy line %d", phrase.Standing(f.GetStanding()), line)
	}
	return phrase.Standing(f.GetStanding())
}
