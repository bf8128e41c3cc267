package ledger

import (
	"fmt"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddNotice writes a notice of a ride under the next number, and the way to it from the member who is told.
func (t *Tx) AddNotice(ride string, notice *pb.Notice) error {
	notice.Number = 1
	err := eachDown(t, "notice/"+ride+"/", "", newNotice, func(last *pb.Notice) error {
		notice.Number = last.Number + 1
		return errStop
	})
	if err != nil {
		return err
	}
	notice.Name = names.Notice(t.Club, ride, notice.Number)
	way := &pb.Notice{Name: notice.Name, Number: notice.Number}
	key := fmt.Sprintf("noticeto/%s/%012d/%s/%08d", names.Last(notice.To), t.Now.Unix(), ride, notice.Number)
	if err := t.save(key, way); err != nil {
		return err
	}
	return t.save(noticeKey(ride, notice.Number), notice)
}

func newNotice() *pb.Notice { return &pb.Notice{} }

func noticeKey(ride string, number int32) string { return fmt.Sprintf("notice/%s/%08d", ride, number) }

// Notice reads a notice of a ride by its number.
func (t *Tx) Notice(ride string, number int32) (*pb.Notice, error) {
	return load(t, noticeKey(ride, number), names.Notice(t.Club, ride, number), newNotice())
}

// Notices visits the notices of a ride, oldest first.
func (t *Tx) Notices(ride string, visit func(*pb.Notice) error) error {
	return each(t, "notice/"+ride+"/", "", newNotice, visit)
}

// NoticesTo visits the notices to a member, latest first; at most limit.
func (t *Tx) NoticesTo(member string, limit int, visit func(*pb.Notice) error) error {
	return eachDown(t, "noticeto/"+member+"/", "", newNotice, limited(limit, func(way *pb.Notice) error {
		notice, err := load(t, noticeKey(names.Part(way.Name, "rides"), way.Number), way.Name, newNotice())
		if err != nil {
			return err
		}
		return visit(notice)
	}))
}
