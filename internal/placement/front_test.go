package placement_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// TestOrderFront: among riders of equal standing, without parties, two of the less experienced are not side by side ahead
// of somebody more experienced: from row to row the better of the two is no better than in the row before, the rider
// beside the leader is the most experienced of all, and no row but the last is made of two of the less experienced half.
func TestOrderFront(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := placement.OrderParams{Leader: "lead", BackMarker: "mark"}
		p.Places = []placement.Place{{Rider: "lead", Experience: 1}, {Rider: "mark", Experience: 1}}
		n := rapid.IntRange(1, 14).Draw(t, "riders")
		years, all := map[string]int{}, []int{}
		for i := range n {
			id := fmt.Sprintf("r%02d", i)
			years[id] = rapid.IntRange(0, 30).Draw(t, "experience")
			all = append(all, years[id])
			p.Places = append(p.Places, placement.Place{Rider: id, Standing: placement.Standing(rapid.IntRange(0, 1).Draw(t, "advised")), Experience: years[id]})
		}
		slices.Sort(all)
		rows, _ := placement.Order(p)
		if rows[0].Left != "lead" || years[rows[0].Right] != all[n-1] {
			t.Fatalf("beside the leader rides %s: %v", rows[0].Right, rows)
		}
		before := all[n-1]
		for i, row := range rows[1:] {
			two := row.Right != "" && row.Right != "mark" && row.Left != "mark"
			if !two {
				continue
			}
			better := max(years[row.Left], years[row.Right])
			if better > before {
				t.Fatalf("row %d has somebody more experienced than the row before: %v", i+2, rows)
			}
			before = better
			if rest := all[:n-1]; better < rest[len(rest)/2] {
				t.Fatalf("row %d is of two of the less experienced half: %v of %v", i+2, rows, rest)
			}
		}
	})
}
