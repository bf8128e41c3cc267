package care

import (
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestAgo: what lies back is told as a person counts it.
func TestAgo(t *testing.T) {
	for declared, want := range map[string]string{
		"certified at 19:00, 40 s before the start":          "certified at 19:00, just now",
		"certified at 19:00, 0 min before the start":         "certified at 19:00, just now",
		"certified at 19:00, 3 min 40 s before the start":    "certified at 19:00, 3 min ago",
		"certified at 19:00, 2 h 0 min before the start":     "certified at 19:00, 2 h ago",
		"certified at 19:00, 2 h 20 min before the start":    "certified at 19:00, 2 h 20 min ago",
		"lubricated on 28 November, 0 days before the start": "lubricated on 28 November, today",
	} {
		if got := asks(&pb.Finding{Rule: "x", Declared: declared}, ago); got != "Rule x needs: ; declared: "+want {
			t.Errorf("%q: %q", declared, got)
		}
	}
}
