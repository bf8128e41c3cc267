package proof_test

import (
	"flag"
	"fmt"
	"testing"

	"gritward/internal/placement/placementtest"
	"gritward/internal/placement/proof"
)

var draws = flag.Int("draws", usualDraws, "how many draws of each of three kinds TestDraws makes")

// The draws by which "What is proven" in DEVELOPERS.md speaks of large clubs: 200 riders who come with others, with
// places for six to eight in ten.
func TestDraws(t *testing.T) {
	for inTen := 6; inTen <= 8; inTen++ {
		for seed := range uint64(*draws) {
			t.Run(fmt.Sprintf("%d/%d", inTen, seed), func(t *testing.T) {
				p := placementtest.Short(placementtest.Social(200, 8, seed), inTen)
				r, c := certified(t, p)
				if err := proof.Check(p, r, c); err != nil || !r.Proven {
					t.Fatalf("%v, proven %v", err, r.Proven)
				}
			})
		}
	}
}
