package roster

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// moved tells who came, went or changed group since the last issue, and why: first those of that issue, in its order. told
// says why riders have no place.
func (s *seating) moved(ctx context.Context, result placement.Result, told map[string]string) ([]*pb.Move, error) {
	if s.in.Previous == nil {
		return nil, nil
	}
	m := &mover{seating: s, ctx: ctx, result: result, told: told, rides: ridesIn(result), groups: map[string]placement.GroupResult{}}
	for _, group := range result.Groups {
		m.groups[group.ID] = group
	}
	var all []*pb.Move
	seen := map[string]bool{}
	for _, group := range s.in.Previous.Placement.GetGroups() {
		for _, rider := range ridersOf(group) {
			id := riderID(rider.Member)
			seen[id] = true
			if m.rides[id] == group.Group {
				continue
			}
			move := &pb.Move{Member: rider.Member, DisplayName: rider.DisplayName, From: group.Group, FromTitle: group.Title,
				To: m.rides[id], ToTitle: s.titles[m.rides[id]]}
			move.Cause, move.Why = m.cause(id, group)
			all = append(all, move)
		}
	}
	for _, id := range s.order {
		if to := m.rides[id]; to != "" && !seen[id] {
			all = append(all, &pb.Move{Member: s.entrants[id].Member.Name, DisplayName: s.name(id), To: to, ToTitle: s.titles[to],
				Cause: pb.Move_NEW, Why: s.came(id)})
		}
	}
	for _, move := range all {
		move.Words = moveWords(move)
	}
	return all, m.err
}

// came says how somebody who had no place in the last issue has one now.
func (s *seating) came(id string) string {
	for _, one := range s.in.Previous.Placement.GetUnplaced() {
		if riderID(one.Member) == id {
			return "had no place in the last issue, and has one now"
		}
	}
	return "signed up since the last issue"
}

// mover finds causes.
type mover struct {
	*seating
	ctx    context.Context
	result placement.Result
	told   map[string]string
	rides  map[string]string
	groups map[string]placement.GroupResult
	err    error
}

// cause says why a rider no longer rides in the group of the last issue: first what keeps the rider out of it, then what
// all riders together would lose if the rider stayed, found by placing everybody so.
func (m *mover) cause(id string, from *pb.RosterGroup) (pb.Move_Cause, string) {
	to := m.rides[id]
	entrant, signed := m.entrants[id]
	group, offered := m.groups[from.Group]
	switch {
	case !signed:
		return pb.Move_WITHDREW, "withdrew"
	case barred(entrant) != "":
		return pb.Move_WITHDREW, stop(barred(entrant))
	case entrant.Signup.State == pb.Signup_WAITING:
		return pb.Move_ROOM, "waits for a place"
	case !offered:
		return pb.Move_GROUP_GONE, from.Title + " is no longer offered"
	case m.pin(id).GetGroup() == to && to != "":
		return pb.Move_FIXED, "fixed in " + m.titles[to] + " by the leader: " + stop(m.pin(id).Reason)
	case m.standing(id, from.Group) == pb.Standing_HELD:
		return pb.Move_HELD, fmt.Sprintf("held in %s since %s", m.titles[from.Group], holdWords(m.assessment(id, from.Group)))
	case !group.Runs:
		return m.gone(id, group, to)
	case to == "":
		return pb.Move_ROOM, m.told[id]
	}
	return m.rather(id, from.Group, to)
}

// gone says why a rider's group no longer runs: what it lacks, or what would be lost if it ran with the rider.
func (m *mover) gone(id string, group placement.GroupResult, to string) (pb.Move_Cause, string) {
	what := m.titles[group.ID] + " no longer runs"
	if pin := m.groupPin(group.ID); pin != nil && !pin.Runs {
		return pb.Move_GROUP_GONE, what + ": the leader fixed it, " + stop(pin.Reason)
	}
	option, sure := m.tried(id, group.ID)
	best, there := m.result.Objective, option.Objective
	switch {
	case !option.Possible || !sure:
		return pb.Move_GROUP_GONE, what + ": " + m.say(group.WhyNot)
	case there.Placed < best.Placed && m.groups[to].Leader == id:
		return pb.Move_ROLE, "needed to lead " + m.titles[to]
	case there.Placed < best.Placed && m.groups[to].BackMarker == id:
		return pb.Move_ROLE, "needed to mark the back of " + m.titles[to]
	case there.Placed < best.Placed:
		return pb.Move_GROUP_GONE, fmt.Sprintf("%s: if it did, %s fewer would have a place", what,
			countOf(best.Placed-there.Placed, "rider", "riders"))
	case there.Discomfort > best.Discomfort:
		return pb.Move_GROUP_GONE, what + ": the paces suit the riders better so"
	case there.PreferencesMet < best.PreferencesMet:
		return pb.Move_GROUP_GONE, what + ": more wishes are met so"
	}
	return pb.Move_GROUP_GONE, what + ": fewer riders move so"
}

// tried is what it takes for a rider to ride in a group; not sure where it was not tried, or the search ended early.
func (m *mover) tried(id, group string) (placement.Option, bool) {
	option, tried, err := m.trials.Option(m.ctx, id, group)
	if err != nil {
		m.err = err
	}
	return option, tried && option.Proven && m.result.Proven
}

// rather says what would be lost if a rider stayed in a group where nothing of the rider's own is in the way.
func (m *mover) rather(id, from, to string) (pb.Move_Cause, string) {
	option, sure := m.tried(id, from)
	switch {
	case !sure:
		return pb.Move_OTHERS, noBetter(m.result.Proven)
	case !option.Possible:
		return m.kept(id, option.Binding)
	}
	rider, was, is := m.rider(id), m.groupOf(from), m.groupOf(to)
	best, there := m.result.Objective, option.Objective
	leads, marks := m.groups[to].Leader == id, m.groups[to].BackMarker == id
	switch {
	case there.Placed < best.Placed && leads:
		return pb.Move_ROLE, "needed to lead " + m.titles[to]
	case there.Placed < best.Placed && marks:
		return pb.Move_ROLE, "needed to mark the back of " + m.titles[to]
	case there.Placed < best.Placed:
		return pb.Move_ROOM, fmt.Sprintf("made room in %s: otherwise %s fewer would have a place", m.titles[from],
			countOf(best.Placed-there.Placed, "rider", "riders"))
	case there.Discomfort > best.Discomfort && placement.Discomfort(rider, is) < placement.Discomfort(rider, was):
		return pb.Move_PACE, fmt.Sprintf("the pace of %s suits better", m.titles[to])
	case there.Discomfort > best.Discomfort:
		return pb.Move_OTHERS, fmt.Sprintf("made room in %s for another rider, whom its pace suits better", m.titles[from])
	case there.PreferencesMet < best.PreferencesMet && rider.Preferred == to:
		return pb.Move_WISH, "wished for " + m.titles[to]
	case there.PreferencesMet < best.PreferencesMet:
		return pb.Move_OTHERS, fmt.Sprintf("made room in %s for another rider's wish", m.titles[from])
	}
	return pb.Move_OTHERS, "so fewer riders move in all"
}

// kept says what keeps a rider out of a group, told without names and bikes of others: the roster is open to the club.
func (m *mover) kept(id string, binding []placement.Constraint) (pb.Move_Cause, string) {
	cause := pb.Move_ROOM
	for _, c := range binding {
		if c.Kind == placement.Together || c.Kind == placement.WithGuardian {
			cause = pb.Move_COMPANY
		}
	}
	var said []string
	t := teller{seating: m.seating, viewer: id}
	for _, c := range binding {
		if words := t.phrase(c); !slices.Contains(said, words) {
			said = append(said, words)
		}
	}
	if len(said) == 0 {
		return cause, noWay
	}
	return cause, strings.Join(said, "; ")
}

// moveWords tells a move as a sentence.
func moveWords(move *pb.Move) string {
	what := fmt.Sprintf("moves from %s to %s", move.FromTitle, move.ToTitle)
	switch {
	case move.Cause == pb.Move_WITHDREW && move.Why == "withdrew":
		return fmt.Sprintf("%s withdrew from %s.", move.DisplayName, move.FromTitle)
	case move.From == "":
		what = "now rides in " + move.ToTitle
	case move.To == "":
		what = "has no place any more, and was in " + move.FromTitle
	}
	return move.DisplayName + " " + what + colon(stop(move.Why)) + "."
}
