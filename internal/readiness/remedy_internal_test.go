package readiness

import (
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestWorkOfAnotherRule: work that is done with another rule's is not asked for twice, but it is said which rule's it is.
func TestWorkOfAnotherRule(t *testing.T) {
	renew := sentence{text: "Renew the chain.", work: work{does: jobChainRenew}}
	degrease := sentence{text: "Degrease the chain.", work: work{does: jobDegrease, under: jobChainRenew}}
	wash := sentence{text: "Wash the bike.", work: work{does: jobWash}}
	for _, c := range []struct {
		todo []sentence
		want string
	}{
		{[]sentence{degrease}, "It comes right with the work for rule chain-wear."},
		{[]sentence{wash, degrease}, "Wash the bike. The rest comes right with the work for rule chain-wear."},
	} {
		all := []asked{{"chain-wear", pb.Standing_HELD, []sentence{renew}}, {"chain-clean", pb.Standing_BACK, c.todo}}
		settle(all)
		if got := remedy(all[1].todo); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
