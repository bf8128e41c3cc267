package roster_test

import (
	"context"
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
