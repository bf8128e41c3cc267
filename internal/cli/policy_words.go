package cli

import (
	"fmt"
	"strings"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// policyTerm tells for which rides a policy counts: "for rides from 2026-10-01 to 2026-12-31; policy 3 follows".
func policyTerm(policy *pb.PolicyRevision) string {
	from := policy.GetEffectiveFrom()
	switch {
	case policy.GetReplacedBy() > 0:
		return fmt.Sprintf("for no ride any more: policy %d from %s took its place", policy.GetReplacedBy(), from)
	case policy.GetFollowedBy() > 0:
		return fmt.Sprintf("for rides from %s to %s; policy %d follows", from, policy.GetEffectiveUntil(), policy.GetFollowedBy())
	}
	return "for rides from " + from + " on"
}

// inPlaceOf tells which policy from the same day a new one replaces; "" when none.
func inPlaceOf(policy *pb.PolicyRevision) string {
	if policy.GetReplaces() == 0 {
		return ""
	}
	return fmt.Sprintf(" It takes the place of policy %d, which counted from the same day.", policy.GetReplaces())
}

// lastDay is the last day of a policy in a table; "" where none is known.
func lastDay(policy *pb.PolicyRevision) string {
	if policy.GetReplacedBy() > 0 {
		return fmt.Sprintf("replaced by %d", policy.GetReplacedBy())
	}
	return policy.GetEffectiveUntil()
}

// layFolder tells why the club's file in the server's policy folder is not adopted, each line after the prefix.
func layFolder(p *page, prefix string, problems []*pb.Problem) {
	if len(problems) == 0 {
		return
	}
	p.line("%sThe file in the server's policy folder is not adopted:", prefix)
	for line := range strings.Lines(strictyaml.Format(problems)) {
		p.line("%s  %s", prefix, strings.TrimRight(line, "\n"))
	}
}
