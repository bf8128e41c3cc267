package roster

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// teller puts constraints of the optimiser into words. With a viewer it tells of others without their names and without
// what is wrong with their bikes.
type teller struct {
	*seating
	viewer string
}

// who is a rider as the viewer may be told.
func (t teller) who(id string) string {
	if t.viewer != "" && t.viewer != id {
		return "another rider"
	}
	return t.name(id)
}

// words is a constraint as a sentence.
func (t teller) words(c placement.Constraint) string { return sentence(t.phrase(c)) }

// phrase is a constraint as a part of a sentence.
func (t teller) phrase(c placement.Constraint) string {
	group := t.titles[c.Group]
	limits := t.groupOf(c.Group)
	var text string
	switch c.Kind {
	case placement.Rides:
		text = t.who(c.Rider) + " has a place"
	case placement.OthersRide:
		text = "all others who have a place keep one"
	case placement.Runs:
		text = fmt.Sprintf("%s runs, as the leader fixed", group)
	case placement.PinnedTo:
		text = fmt.Sprintf("%s is fixed in %s by the leader", t.who(c.Rider), group)
	case placement.HeldIn:
		text = t.held(c.Rider, c.Group)
	case placement.WithGuardian:
		text = t.guarded(c.Rider)
	case placement.Together:
		text = t.party(c.Party)
	case placement.BackPlacesOf:
		text = fmt.Sprintf("%s takes at most %s at the back", group, countOf(limits.BackPlaces, "rider", "riders"))
	case placement.AtMost:
		text = fmt.Sprintf("%s takes at most %s", group, countOf(limits.MaxSize, "rider", "riders"))
		if pin := t.groupPin(c.Group); pin != nil && !pin.Runs {
			text = fmt.Sprintf("the leader fixed that %s does not run: %s", group, stop(pin.Reason))
		}
	case placement.AtLeast:
		text = fmt.Sprintf("%s needs at least %s", group, countOf(limits.MinSize, "rider", "riders"))
	case placement.NeedsLeader:
		text = group + " needs a leader"
	case placement.NeedsBackMarker:
		text = group + " needs a back marker"
	case placement.NamedLeader:
		text = fmt.Sprintf("%s is named to lead %s", t.who(c.Rider), group)
	case placement.NamedBackMarker:
		text = fmt.Sprintf("%s is named to mark the back of %s", t.who(c.Rider), group)
	}
	return text
}

// held says what holds a bike in a group.
func (t teller) held(id, group string) string {
	in := "the bike of " + t.who(id) + " is held in " + t.titles[group]
	if t.viewer != "" && t.viewer != id {
		return in
	}
	return in + colon(holdWords(t.assessment(id, group)))
}

// holdWords says in short what holds a bike: how much is missing, or what is needed and what was declared.
func holdWords(assessment *pb.Assessment) string {
	var parts []string
	for _, finding := range unmet(assessment.GetFindings()) {
		if finding.Standing != pb.Standing_HELD {
			continue
		}
		words := finding.Shortfall
		if words == "" {
			words = fmt.Sprintf("%s, declared: %s; needed: %s", finding.Rule, stop(finding.Declared), stop(finding.Needed))
		}
		if !slices.Contains(parts, words) {
			parts = append(parts, words)
		}
	}
	return strings.Join(parts, "; ")
}

func (t teller) guarded(id string) string {
	if t.viewer != "" && t.viewer != id {
		return "a junior rides only with the guardian"
	}
	guardian := t.guardian(t.entrants[id].Member.Guardian)
	if guardian == "" {
		return t.name(id) + ", a junior, has no guardian with a place on this ride"
	}
	return fmt.Sprintf("%s, a junior, rides only with %s", t.name(id), t.name(guardian))
}

func (t teller) party(word string) string {
	var members []string
	for _, id := range t.order {
		if t.entrants[id].Signup.Party == word {
			members = append(members, t.name(id))
		}
	}
	if own := t.entrants[t.viewer].Signup.GetParty(); t.viewer != "" && own != word {
		return "a party rides together"
	}
	return listed(members) + " ride together"
}

// groupOf is a group as it was asked of the optimiser.
func (s *seating) groupOf(id string) placement.Group {
	for _, group := range s.asked.Groups {
		if group.ID == id {
			return group
		}
	}
	return placement.Group{}
}

// all puts constraints into words, those about bikes of one rider in several groups included, each once.
func (t teller) all(list []placement.Constraint) []string {
	var said []string
	for _, c := range list {
		if words := t.words(c); !slices.Contains(said, words) {
			said = append(said, words)
		}
	}
	return said
}

// conflicts tells why not everything that was asked for can be, and the same in one text by rider and by group.
func (s *seating) conflicts(ctx context.Context, result placement.Result) ([]*pb.Conflict, map[string]string, error) {
	found, err := placement.Conflicts(ctx, s.asked, result, s.runsPinned())
	t, told := teller{seating: s}, map[string]string{}
	var all []*pb.Conflict
	for _, c := range found {
		conflict := &pb.Conflict{Constraints: t.all(c.Constraints), Smallest: c.Smallest, HeldOnly: heldOnly(c)}
		for _, id := range c.Likewise {
			conflict.Likewise = append(conflict.Likewise, s.name(id))
		}
		all = append(all, conflict)
		rest := strings.Join(t.all(slices.DeleteFunc(slices.Clone(c.Constraints), func(one placement.Constraint) bool {
			return one == c.Wish
		})), " ")
		for _, id := range append(c.Likewise, c.Wish.Rider+c.Wish.Group) {
			told[id] = rest
		}
	}
	return all, told, err
}

// untold counts the riders without a place of whom no conflict tells.
func untold(result placement.Result, told map[string]string) int32 {
	count := int32(0)
	for _, one := range result.Unplaced {
		if _, ok := told[one.Rider]; !ok {
			count++
		}
	}
	return count
}

// heldOnly tells whether only a rider's own bike is in the way of the rider.
func heldOnly(c placement.Conflict) bool {
	return c.Wish.Kind == placement.Rides && !slices.ContainsFunc(c.Constraints, func(one placement.Constraint) bool {
		return one != c.Wish && (one.Kind != placement.HeldIn || one.Rider != c.Wish.Rider)
	})
}

// letsRun says who would let a group run that does not; "" where no few people would, or the leader decided.
func (s *seating) letsRun(ctx context.Context, group string) (string, error) {
	if pin := s.groupPin(group); pin != nil && !pin.Runs {
		return "", nil
	}
	add, found, err := placement.LetsRun(ctx, s.asked, group)
	if err != nil || !found {
		return "", err
	}
	return peopleWords(add) + " would let it run.", nil
}

// peopleWords tells people who are not there: "One more person who can lead".
func peopleWords(add placement.Additions) string {
	var parts []string
	for _, kind := range []struct {
		count int
		what  string
	}{{add.Leaders, " who can lead"}, {add.BackMarkers, " who can mark the back"}, {add.Riders, ""}} {
		if kind.count > 0 {
			more := "more "
			if len(parts) > 0 {
				more = ""
			}
			parts = append(parts, countWords(kind.count)+" "+more+map[bool]string{true: "person", false: "people"}[kind.count == 1]+kind.what)
		}
	}
	return capital(listed(parts))
}

// countWords writes small numbers in words.
func countWords(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// listed joins words as in "a, b and c".
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func colon(text string) string {
	if text == "" {
		return ""
	}
	return ": " + text
}

// stop takes the stop off the end of a text, to go inside a sentence.
func stop(text string) string { return strings.TrimRight(strings.TrimSpace(text), ".;") }

func capital(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

func sentence(text string) string { return capital(stop(text)) + "." }
