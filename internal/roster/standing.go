package roster

import (
	"time"

	"gritward/internal/policy"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// Entrant is one who has signed up: the member, the bike, and the sign-up.
type Entrant struct {
	Member *pb.Member
	Bike   *pb.Bike
	Signup *pb.Signup
}

// Assess says where a bike stands in one group.
func Assess(p *policy.Policy, bike *pb.Bike, group *pb.GroupPlan, now time.Time) *pb.Assessment {
	return readiness.Assess(p.Book(), readiness.Subject{Bike: bike.Name, Declaration: bike.Declaration}, group, now)
}

// Standings says where a bike stands in each group of a plan, in the plan's order.
func Standings(p *policy.Policy, bike *pb.Bike, plan *pb.RidePlan, now time.Time) []*pb.Assessment {
	var all []*pb.Assessment
	for _, group := range plan.Groups {
		all = append(all, Assess(p, bike, group, now))
	}
	return all
}

// unmet gives the findings that are not met, worst first, in the policy's order among equals.
func unmet(findings []*pb.Finding) []*pb.Finding {
	var left []*pb.Finding
	for standing := pb.Standing_HELD; standing > pb.Standing_CLEAR; standing-- {
		for _, finding := range findings {
			if finding.Standing == standing {
				left = append(left, finding)
			}
		}
	}
	return left
}
