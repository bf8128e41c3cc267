package cli

import (
	"fmt"
	"slices"
	"strings"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// causes are the rules that a standing comes of, worst first, in brackets: "[back: guards; advice: lights]"; "" when
// they are not told.
func causes(standing *pb.Assessment) string {
	words := map[pb.Standing]string{pb.Standing_HELD: "held", pb.Standing_BACK: "back", pb.Standing_ADVISED: "advice"}
	var parts []string
	for _, level := range []pb.Standing{pb.Standing_HELD, pb.Standing_BACK, pb.Standing_ADVISED} {
		var rules []string
		for _, finding := range standing.GetFindings() {
			if finding.GetStanding() == level {
				rules = append(rules, finding.GetRule())
			}
		}
		if len(rules) > 0 {
			parts = append(parts, words[level]+": "+few(rules))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return " [" + strings.Join(parts, "; ") + "]"
}

// few names some, and how many more there are.
func few(words []string) string {
	const most = 4
	if more := len(words) - most; more > 1 {
		return fmt.Sprintf("%s and %d more", strings.Join(words[:most], ", "), more)
	}
	return strings.Join(words, ", ")
}

// standingsWords tells the standing in each group, groups of one standing together: "brisk, steady clear; easy held". with
// why, the rules that each comes of follow it.
func standingsWords(standings []*pb.Assessment, why bool) string {
	var said []string // standings, in the order of their first group
	groups := map[string][]string{}
	for _, standing := range standings {
		text := word(standing.GetStanding())
		if why {
			text += causes(standing)
		}
		if !slices.Contains(said, text) {
			said = append(said, text)
		}
		groups[text] = append(groups[text], standing.GetGroup())
	}
	for i, text := range said {
		said[i] = strings.Join(groups[text], ", ") + " " + text
		if len(said) == 1 && len(standings) > 1 {
			said[i] = text + " in every group"
		}
	}
	return strings.Join(said, "; ")
}

// layWhy tells, below a list of sign-ups, the rules of each that does not stand clear in every group, where they are told.
func layWhy(p *page, signups []*pb.Signup) {
	first := true
	for i, signup := range signups {
		if !slices.ContainsFunc(signup.GetStandings(), func(one *pb.Assessment) bool { return causes(one) != "" }) {
			continue
		}
		if first {
			p.line("")
			p.line("Why:")
			first = false
		}
		p.para(2, "%d %s: %s", i+1, signup.GetDisplayName(), standingsWords(signup.GetStandings(), true))
	}
}

// titles are what people call a bike and the groups of a ride; ride may be "". In JSON nothing is called anything.
func (s *session) titles(bike, ride string) (render.Titles, error) {
	titles := render.Titles{Bikes: map[string]string{}, Groups: map[string]string{}}
	if s.json {
		return titles, nil
	}
	known, err := s.bikes.GetBike(s.ctx, &pb.GetBikeRequest{Name: bike})
	if err != nil {
		return titles, err
	}
	titles.Bikes[bike] = known.GetDeclaration().GetFacts().GetTitle()
	if ride == "" {
		return titles, nil
	}
	planned, err := s.rides.GetRide(s.ctx, &pb.GetRideRequest{Name: ride})
	for _, group := range planned.GetGroups() {
		titles.Groups[group.GetId()] = group.GetTitle()
	}
	return titles, err
}
