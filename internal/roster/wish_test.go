package roster_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"gritward/internal/roster"
)

// A wish that cannot be met is told with why, and of a rider without a pace it counts as the pace ridden with comfort.
func TestWishNotMet(t *testing.T) {
	entrants := []roster.Entrant{
		entrant(0, 22, true, false, "ready"), entrant(1, 22, false, true, "ready"), entrant(2, 0, false, false, "short"), entrant(3, 22, false, false, "ready"),
	}
	entrants[2].Member.PaceMaxKmh = 0
	entrants[2].Signup.PreferredGroup = "easy"
	placed, err := roster.Place(context.Background(), input(t, entrants))
	if err != nil {
		t.Fatal(err)
	}
	if placed.Wishes != 1 || placed.PreferencesMet != 0 || len(placed.Groups) != 1 {
		t.Fatalf("%d of %d wishes met, %d groups", placed.PreferencesMet, placed.Wishes, len(placed.Groups))
	}
	for _, row := range placed.Groups[0].Rows {
		for _, r := range []string{row.GetLeft().GetMember(), row.GetRight().GetMember()} {
			if r != entrants[2].Member.Name {
				continue
			}
			rider := row.Left
			if rider.Member != r {
				rider = row.Right
			}
			if rider.WishedTitle == "" || !strings.HasSuffix(rider.WishedWhy, ", so the bike is held") || rider.PaceOffKmh <= 0 {
				t.Errorf("the wish is told as %q, %q, %g km/h too fast", rider.WishedTitle, rider.WishedWhy, rider.PaceOffKmh)
			}
		}
	}
	for _, idle := range placed.Idle {
		if strings.Contains(idle.Why, "others") || idle.Group == "brisk" && !strings.HasPrefix(idle.Why, "no leader left: of those who signed up and may ride, 1 can lead") {
			t.Errorf("%s does not run: %q", idle.Title, idle.Why)
		}
	}
}

// Of whom no pace is known can be placed in any group: the group's note says whom to ask, and the rider is not told that the
// pace suits.
func TestPaceNotKnown(t *testing.T) {
	entrants := []roster.Entrant{
		entrant(0, 22, true, false, "ready"), entrant(1, 0, false, true, "ready"), entrant(2, 0, false, false, "ready"), entrant(3, 22, false, false, "ready"),
		entrant(4, 0, false, false, "ready"), entrant(5, 0, false, false, "ready"),
	}
	for _, i := range []int{1, 2, 4, 5} {
		entrants[i].Member.PaceMinKmh, entrants[i].Member.PaceMaxKmh = 0, 0
	}
	entrants[5].Signup.PreferredGroup = "steady"
	in := input(t, entrants)
	placed, err := roster.Place(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	if len(placed.Groups) != 1 {
		t.Fatalf("%d groups run", len(placed.Groups))
	}
	group := placed.Groups[0]
	want := fmt.Sprintf("No pace is known of Rider m2 and Rider m4: ask before the start whether %g km/h suits.", group.Plan.PaceKmh)
	if len(group.Notes) == 0 || group.Notes[0] != want {
		t.Errorf("notes %q, want first %q", group.Notes, want)
	}
	for member, without := range map[int]bool{2: true, 3: false} {
		said, err := roster.Explain(context.Background(), in, entrants[member].Member.Name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(said.Why, "No pace is stated") != without || without && strings.Contains(said.Why, "pace suits") {
			t.Errorf("%s is told %q", entrants[member].Member.DisplayName, said.Why)
		}
	}
}
