package ledger

import (
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddMark writes a mark of a ride's roll call under its name, and tells whether it is new: one sent twice stays as it
// came first, and is given back so. ALREADY_EXISTS when another mark has the name.
func (t *Tx) AddMark(mark *pb.Mark) (kept *pb.Mark, fresh bool, err error) {
	ids, err := t.ids(mark.Name, names.MarkShape)
	if err != nil {
		return nil, false, err
	}
	key := "mark/" + ids[1] + "/" + ids[2]
	data, err := t.tx.Get(key)
	if err != nil {
		return nil, false, err
	}
	if data != nil {
		kept = &pb.Mark{}
		if err := decode(key, data, kept); err != nil {
			return nil, false, err
		}
		if kept.Member != mark.Member || kept.What != mark.What || kept.Note != mark.Note || kept.Device != mark.Device {
			return nil, false, fault.New(pb.Reason_ALREADY_EXISTS, "%s is another mark; give this one a name of its own", mark.Name)
		}
		return kept, false, nil
	}
	mark.ReceivedAt = t.Stamp()
	return mark, true, t.save(key, mark)
}

// Marks visits the marks of a ride in the order of their ids.
func (t *Tx) Marks(ride string, visit func(*pb.Mark) error) error {
	return each(t, "mark/"+ride+"/", "", func() *pb.Mark { return &pb.Mark{} }, visit)
}

// AddClosing writes that a group or a ride was closed or opened again, under the next number.
func (t *Tx) AddClosing(ride string, closing *pb.Closing) error {
	closing.Number = 1
	err := eachDown(t, "closing/"+ride+"/", "", func() *pb.Closing { return &pb.Closing{} }, func(last *pb.Closing) error {
		closing.Number = last.Number + 1
		return errStop
	})
	if err != nil {
		return err
	}
	return t.save(fmt.Sprintf("closing/%s/%08d", ride, closing.Number), closing)
}

// Closings visits how a ride and its groups were closed and opened again, in that order.
func (t *Tx) Closings(ride string, visit func(*pb.Closing) error) error {
	return each(t, "closing/"+ride+"/", "", func() *pb.Closing { return &pb.Closing{} }, visit)
}
