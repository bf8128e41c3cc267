package ledger

import (
	"fmt"
	"strconv"
	"strings"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddCare appends an entry to a bike's care log and gives it its name and time. The entry's number is one more than the
// last one's.
func (t *Tx) AddCare(member, bike string, entry *pb.CareEntry) error {
	prefix := careKey(member, bike)
	number := 1
	err := eachDown(t, prefix, "", func() *pb.CareEntry { return &pb.CareEntry{} }, func(last *pb.CareEntry) error {
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
	entry.Name = fmt.Sprintf("%s/care/%d", names.Bike(t.Club, member, bike), number)
	entry.RecordedAt = t.Stamp()
	return t.save(fmt.Sprintf("%s%08d", prefix, number), entry)
}

// Care visits a bike's care log in the order of recording, from the entry after the number given, 0: from the first; at
// most limit, 0: all.
func (t *Tx) Care(member, bike string, after, limit int, visit func(*pb.CareEntry) error) error {
	prefix := careKey(member, bike)
	return each(t, prefix, numbered(prefix, int64(after), 8), func() *pb.CareEntry { return &pb.CareEntry{} }, limited(limit, visit))
}

func careKey(member, bike string) string { return "care/" + member + "/" + bike + "/" }

// SaveRidden writes that a bike rode a ride home. Written again for the same ride, it counts once.
func (t *Tx) SaveRidden(member, bike string, ridden *pb.RiddenRide) error {
	return t.save(riddenKey(member, bike)+RiddenID(ridden), ridden)
}

// RiddenID is the id of a ridden ride, or of a sum of them, below its bike. No ride has the id of a sum: those of rides
// begin with a date.
func RiddenID(ridden *pb.RiddenRide) string {
	switch {
	case ridden.Ride != "":
		return names.Last(ridden.Ride)
	case ridden.Wet:
		return "before-wet"
	}
	return "before-dry"
}

// Ridden visits the rides that a bike rode home, in the order of their ids.
func (t *Tx) Ridden(member, bike string, visit func(*pb.RiddenRide) error) error {
	return each(t, riddenKey(member, bike), "", func() *pb.RiddenRide { return &pb.RiddenRide{} }, visit)
}

func riddenKey(member, bike string) string { return "ridden/" + member + "/" + bike + "/" }

// DropRidden takes away that a bike rode a ride home, if that is there.
func (t *Tx) DropRidden(member, bike, ride string) error {
	return t.tx.Delete(riddenKey(member, bike) + ride)
}

// AllRidden visits the rides that all bikes of the club rode home, by the ids of member and bike.
func (t *Tx) AllRidden(visit func(member, bike string, ridden *pb.RiddenRide) error) error {
	const prefix = "ridden/"
	return t.tx.Scan(prefix, "", func(key string, value []byte) (bool, error) {
		parts := strings.Split(key[len(prefix):], "/")
		if len(parts) != 3 {
			return false, fmt.Errorf("record %q lies under no bike: restore the store from a backup", key)
		}
		ridden := &pb.RiddenRide{}
		if err := decode(key, value, ridden); err != nil {
			return false, err
		}
		err := visit(parts[0], parts[1], ridden)
		return err == nil, err
	})
}
