package placement

import "fmt"

// ownReason says why a rider may not ride in a group, looking at no one else.
func (m *model) ownReason(r Rider, g Group) string {
	switch {
	case r.StandingIn(g.ID) == Held:
		return "held"
	case r.Pinned != "" && r.Pinned != g.ID:
		return "pinned to group " + r.Pinned
	case r.Junior && r.Guardian == "":
		return "junior without a guardian"
	case r.StandingIn(g.ID) == Back && g.BackPlaces == 0:
		return "no back places"
	}
	return ""
}

// whyUnplaced says why a rider is not in a group: for reasons of the rider's
// own, of those the rider goes with, of the group, or for want of room.
func (m *model) whyUnplaced(r int, g GroupResult, in map[string]string) string {
	rider, group := m.p.Riders[r], m.p.Groups[m.group[g.ID]]
	if text := m.ownReason(rider, group); text != "" {
		return text
	}
	with := m.company(r)
	for _, o := range with {
		if text := m.ownReason(m.p.Riders[o], group); text != "" {
			return fmt.Sprintf("goes with %s: %s", m.p.Riders[o].ID, text)
		}
	}
	for _, o := range with {
		if at := in[m.p.Riders[o].ID]; at != "" && at != g.ID {
			return fmt.Sprintf("guardian %s rides in group %s", m.p.Riders[o].ID, at)
		}
	}
	if !g.Runs {
		return "group does not run: " + g.WhyNot
	}
	return m.room(append(with, r), group, g, in)
}

// room says what place is missing for riders who go together.
func (m *model) room(together []int, group Group, g GroupResult, in map[string]string) string {
	size, backs, backsTaken := 0, 0, 0
	for _, o := range together {
		if in[m.p.Riders[o].ID] != g.ID {
			size++
			backs += count(m.p.Riders[o].StandingIn(g.ID) == Back)
		}
	}
	for _, id := range g.Riders {
		backsTaken += count(m.p.Riders[m.rider[id]].StandingIn(g.ID) == Back)
	}
	free, freeBack := group.MaxSize-len(g.Riders), group.BackPlaces-backsTaken
	switch {
	case free == 0:
		return "full"
	case size > free:
		return fmt.Sprintf("full: %d places for %d who go together", free, size)
	case backs > freeBack && backs > 1:
		return fmt.Sprintf("back places full: %d for %d who go together", freeBack, backs)
	case backs > freeBack:
		return "back places full"
	}
	return "no room found before the search ended"
}

// company lists the others without whom a rider does not ride: the party, and a
// junior's guardian, with theirs in turn.
func (m *model) company(r int) []int {
	seen := map[int]bool{r: true}
	list := []int{r}
	for i := 0; i < len(list); i++ {
		me := m.p.Riders[list[i]]
		for o, other := range m.p.Riders {
			needs := me.Party != "" && me.Party == other.Party || me.Junior && me.Guardian == other.ID
			if needs && !seen[o] {
				seen[o] = true
				list = append(list, o)
			}
		}
	}
	return list[1:]
}
