package placement

import (
	"fmt"
	"slices"
)

// explain says, in plain words, why a group does not run and why a rider is in
// none of them.
func (m *model) explain(r *Result) {
	in := map[string]string{}
	for _, s := range r.Seats() {
		in[s.Rider] = s.Group
	}
	for i := range r.Groups {
		if !r.Groups[i].Runs {
			r.Groups[i].WhyNot = m.whyNot(m.p.Groups[i], in, r.Proven)
		}
	}
	for i := range r.Unplaced {
		u := &r.Unplaced[i]
		if len(r.Groups) == 0 {
			u.Reasons = []Reason{{Text: "the ride has no groups"}}
		}
		for _, g := range r.Groups {
			u.Reasons = append(u.Reasons, Reason{Group: g.ID, Text: m.whyUnplaced(m.rider[u.Rider], g, in)})
		}
	}
}

// whyNot says why a group does not run. First what is so whoever rides
// elsewhere, then what is so because riders are in other groups.
func (m *model) whyNot(g Group, in map[string]string, proven bool) string {
	if g.MaxSize == 0 {
		return "no places"
	}
	if text := m.namedFault(g.Leader, g, "leader", mayLead); text != "" {
		return text
	}
	if text := m.namedFault(g.BackMarker, g, "back marker", mayMarkBack); text != "" {
		return text
	}
	all := func(Rider) bool { return true }
	if text := m.lacking(g, all, ""); text != "" {
		return text
	}
	if text := m.shortOfRoles(g, in); text != "" {
		return text
	}
	free := func(r Rider) bool { return in[r.ID] == "" }
	if m.lacking(g, free, "") != "" {
		if !proven {
			return "those who could ride in it ride in the groups that run"
		}
		return "those who could ride in it are better placed in the groups that run"
	}
	return "the riders it could have fit in no permitted way"
}

// shortOfRoles says that too few people can lead, or mark the back, for one more group than run.
func (m *model) shortOfRoles(g Group, in map[string]string) string {
	running, can := map[string]bool{}, map[string]int{}
	for _, id := range in {
		running[id] = id != ""
	}
	delete(running, "")
	for _, r := range m.p.Riders {
		if slices.ContainsFunc(m.p.Groups, func(g Group) bool { return m.ownReason(r, g) == "" }) {
			can["lead"] += count(mayLead(r))
			can["mark the back"] += count(mayMarkBack(r))
		}
	}
	short := func(role, what string, need bool) string {
		n := can[role]
		if !need || n > len(running) {
			return ""
		}
		return fmt.Sprintf("no %s left: of those who signed up and may ride, %d can %s, and the groups that run need as many", what, n, role)
	}
	if text := short("lead", "leader", m.p.needsLeader(g)); text != "" {
		return text
	}
	return short("mark the back", "back marker", m.p.needsBackMarker(g))
}

// lacking counts the riders a group could draw on and says what they are short of.
func (m *model) lacking(g Group, from func(Rider) bool, suffix string) string {
	leaders, markers, either, front, back := 0, 0, 0, 0, 0
	for _, r := range m.p.Riders {
		if !from(r) || m.ownReason(r, g) != "" {
			continue
		}
		isBack := r.StandingIn(g.ID) == Back
		front, back = front+count(!isBack), back+count(isBack)
		l := mayLead(r) && (g.Leader == "" || g.Leader == r.ID)
		b := mayMarkBack(r) && (g.BackMarker == "" || g.BackMarker == r.ID)
		leaders, markers, either = leaders+count(l), markers+count(b), either+count(l || b)
	}
	needLead, needMark := m.p.needsLeader(g), m.p.needsBackMarker(g)
	riders, least := front+min(back, g.BackPlaces), max(1, g.MinSize)
	switch {
	case riders == 0:
		return "no riders" + suffix
	case needLead && leaders == 0:
		return "no leader" + suffix
	case needMark && markers == 0:
		return "no back marker" + suffix
	case needLead && needMark && either < 2:
		return "one rider cannot be both leader and back marker" + suffix
	case riders < least && back > g.BackPlaces:
		return fmt.Sprintf("too few riders: %d of %d, with %d back places%s", riders, least, g.BackPlaces, suffix)
	case riders < least:
		return fmt.Sprintf("too few riders: %d of %d%s", riders, least, suffix)
	}
	return ""
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// namedFault says why the rider named for a role cannot fill it.
func (m *model) namedFault(id string, g Group, role string, may func(Rider) bool) string {
	if id == "" {
		return ""
	}
	r := m.p.Riders[m.rider[id]]
	switch {
	case r.Junior:
		return fmt.Sprintf("named %s %s is a junior", role, id)
	case !may(r):
		return fmt.Sprintf("named %s %s is not qualified", role, id)
	}
	if text := m.ownReason(r, g); text != "" {
		return fmt.Sprintf("named %s %s: %s", role, id, text)
	}
	return ""
}
