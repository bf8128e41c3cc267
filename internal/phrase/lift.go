package phrase

import (
	"slices"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// SameWay tells whether two ways to lift a bike, perhaps in two groups, ask for the same and reach the same, and so can be told once.
func SameWay(a, b *pb.LiftWay) bool {
	return a.GetReaches() == b.GetReaches() && slices.EqualFunc(a.GetSteps(), b.GetSteps(),
		func(a, b *pb.LiftStep) bool { return proto.Equal(a, b) })
}
