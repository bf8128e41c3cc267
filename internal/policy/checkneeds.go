package policy

import (
	"fmt"

	pb "gritward/proto/gritward/v1"
)

// wear wants the limits of a chain's wear in order of the number of sprockets, each number once.
func (c *checker) wear(rule *pb.Rule, path string) {
	limits := rule.GetChain().GetWear()
	path += ".need.wear"
	if c.faulty(path) {
		return
	}
	for i := 1; i < len(limits); i++ {
		if limits[i].GetSpeedsFrom() <= limits[i-1].GetSpeedsFrom() {
			c.fail(pathOf(path, i)+".speeds_from", fmt.Sprintf("speeds_from %d does not come after %d: the limits are in order of the number of sprockets, each number once",
				limits[i].GetSpeedsFrom(), limits[i-1].GetSpeedsFrom()), "write for example {speeds_from: 1, below: 1%}, {speeds_from: 8, below: 0.75%}, {speeds_from: 11, below: 0.5%}")
			return
		}
	}
}
