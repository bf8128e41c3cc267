package ledger

import (
	"fmt"
	"strconv"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddLookOver appends a look-over of a bike and gives it its name. Its number is one more than the last one's.
func (t *Tx) AddLookOver(member, bike string, look *pb.LookOver) error {
	number := 1
	err := eachDown(t, lookOverKey(member, bike), "", newLookOver, func(last *pb.LookOver) error {
		before, err := strconv.Atoi(names.Last(last.Name))
		if err != nil {
			return fmt.Errorf("record %q has no number: %w", last.Name, err)
		}
		number = before + 1
		return errStop
	})
	if err != nil {
		return err
	}
	look.Name = fmt.Sprintf("%s/lookovers/%d", names.Bike(t.Club, member, bike), number)
	return t.save(fmt.Sprintf("%s%08d", lookOverKey(member, bike), number), look)
}

// LookOvers visits the look-overs of a bike, in the order in which they came.
func (t *Tx) LookOvers(member, bike string, visit func(*pb.LookOver) error) error {
	return each(t, lookOverKey(member, bike), "", newLookOver, visit)
}

func newLookOver() *pb.LookOver { return &pb.LookOver{} }

func lookOverKey(member, bike string) string { return "lookover/" + member + "/" + bike + "/" }
