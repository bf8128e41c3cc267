package ledger

import (
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddMark writes a mark of a ride's roll call under its name and the next number, and tells whether it is new: one sent
// twice stays as it came first, and is given back so. ALREADY_EXISTS when another mark has the name.
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
		if kept.Member != mark.Member || kept.What != mark.What || kept.Note != mark.Note || kept.Device != mark.Device ||
			kept.Group != mark.Group || kept.Strikes != mark.Strikes {
			return nil, false, fault.New(pb.Reason_ALREADY_EXISTS, "%s is another mark; give this one a name of its own", mark.Name)
		}
		return kept, false, nil
	}
	mark.ReceivedAt, mark.Number = t.Stamp(), 1
	err = eachDown(t, "markno/"+ids[1]+"/", "", newMark, func(last *pb.Mark) error {
		mark.Number = last.Number + 1
		return errStop
	})
	if err != nil {
		return nil, false, err
	}
	if err := t.save(markNumberKey(ids[1], mark.Number), &pb.Mark{Name: mark.Name, Number: mark.Number}); err != nil {
		return nil, false, err
	}
	if err := t.watch(ids[1]); err != nil {
		return nil, false, err
	}
	return mark, true, t.save(key, mark)
}

func newMark() *pb.Mark { return &pb.Mark{} }

// markNumberKey is where a mark's name is found by its number.
func markNumberKey(ride string, number int64) string {
	return fmt.Sprintf("markno/%s/%08d", ride, number)
}

// Marks visits the marks of a ride in the order of their ids.
func (t *Tx) Marks(ride string, visit func(*pb.Mark) error) error {
	return each(t, "mark/"+ride+"/", "", newMark, visit)
}

// MarksSince visits the marks of a ride in the order of their numbers, from the one after the number given; at most limit.
func (t *Tx) MarksSince(ride string, since int64, limit int, visit func(*pb.Mark) error) error {
	return each(t, "markno/"+ride+"/", markNumberKey(ride, since), newMark, limited(limit, func(found *pb.Mark) error {
		mark, err := load(t, "mark/"+ride+"/"+names.Last(found.Name), found.Name, newMark())
		if err != nil {
			return err
		}
		return visit(mark)
	}))
}

// AddClosing writes that a group or a ride was closed or opened again, under the next number.
func (t *Tx) AddClosing(ride string, closing *pb.Closing) error {
	closing.Number = 1
	err := eachDown(t, "closing/"+ride+"/", "", newClosing, func(last *pb.Closing) error {
		closing.Number = last.Number + 1
		return errStop
	})
	if err != nil {
		return err
	}
	if err := t.watch(ride); err != nil {
		return err
	}
	return t.save(fmt.Sprintf("closing/%s/%08d", ride, closing.Number), closing)
}

func newClosing() *pb.Closing { return &pb.Closing{} }

// Closings visits how a ride and its groups were closed and opened again, in that order.
func (t *Tx) Closings(ride string, visit func(*pb.Closing) error) error {
	return each(t, "closing/"+ride+"/", "", newClosing, visit)
}
