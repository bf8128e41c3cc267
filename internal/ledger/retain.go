package ledger

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// below are the kinds of records that lie below a ride: what comes before the ride's id in their keys. A ride's own is one.
var below = []string{"ride/", "route/", "signup/", "tally/", "roster/", "mark/", "markno/", "closing/", "notice/", "change/",
	"letter/", "incident/", "incidentadd/"}

// pointing are the kinds of records that name a ride elsewhere in their keys: which part of the key has its id.
var pointing = map[string]int{"noticeto/": 3, "time/": 3, DueRide.prefix(): 3, DueLetter.prefix(): 3}

// DropRides deletes rides with every record that lies below them or points to them. What the bikes rode on them stays as
// sums. What is deleted lies in the store's file until Scrub; that it is owed is remembered.
func (t *Tx) DropRides(ids []string) error {
	meant := make(map[string]bool, len(ids))
	for _, id := range ids {
		meant[id] = true
	}
	var keys []string
	for _, id := range ids {
		ride, err := t.PeekRide(id)
		if err != nil {
			return err
		}
		keys = append(keys, rideKeys(ride)...)
		for _, kind := range below {
			lie, err := t.keys(kind + id + "/")
			if err != nil {
				return err
			}
			keys = append(append(keys, kind+id), lie...)
		}
	}
	for kind, part := range pointing {
		all, err := t.keys(kind)
		if err != nil {
			return err
		}
		for _, key := range all {
			if parts := strings.Split(key, "/"); len(parts) > part && meant[parts[part]] {
				keys = append(keys, key)
			}
		}
	}
	readings, err := forRides(t, "reading/", func() *pb.ContactReading { return &pb.ContactReading{} }, (*pb.ContactReading).GetRide, meant)
	if err != nil {
		return err
	}
	looks, err := forRides(t, "lookover/", newLookOver, (*pb.LookOver).GetRide, meant)
	if err != nil {
		return err
	}
	shares, err := t.shareKeys(meant)
	if err != nil {
		return err
	}
	for _, key := range slices.Concat(keys, readings, looks, shares) {
		if err := t.tx.Delete(key); err != nil {
			return err
		}
	}
	if err := t.timesChanged(); err != nil {
		return err
	}
	return t.foldRidden(meant)
}

// forRides are the keys of the records of a kind that name, in their values, a ride that is meant.
func forRides[T proto.Message](t *Tx, kind string, fresh func() T, ride func(T) string, meant map[string]bool) (keys []string, err error) {
	return keys, t.tx.Scan(kind, "", func(key string, value []byte) (bool, error) {
		record := fresh()
		err := decode(key, value, record)
		if err == nil && meant[names.Last(ride(record))] {
			keys = append(keys, key)
		}
		return err == nil, err
	})
}

// foldRidden puts what bikes rode on the rides that are meant into two sums for each bike, of dry roads and of wet. A sum
// has the day of the latest ride in it.
func (t *Tx) foldRidden(meant map[string]bool) error {
	var gone []string
	sums := map[string]*pb.RiddenRide{}
	err := t.tx.Scan("ridden/", "", func(key string, value []byte) (bool, error) {
		at := strings.LastIndexByte(key, '/') + 1
		ridden := &pb.RiddenRide{}
		if err := decode(key, value, ridden); err != nil {
			return false, err
		}
		switch {
		case meant[key[at:]]:
			gone = append(gone, key)
		case ridden.Ride != "":
			return true, nil
		}
		into := key[:at] + RiddenID(&pb.RiddenRide{Wet: ridden.Wet})
		sum := sums[into]
		if sum == nil {
			sum = &pb.RiddenRide{Wet: ridden.Wet}
			sums[into] = sum
		}
		sum.Km += ridden.Km
		sum.Day = max(sum.Day, ridden.Day)
		return true, nil
	})
	if err != nil {
		return err
	}
	for _, key := range gone {
		if err := t.tx.Delete(key); err != nil {
			return err
		}
	}
	for key, sum := range sums {
		if err := t.save(key, sum); err != nil {
			return err
		}
	}
	return nil
}

// DropDevices deletes the devices that are meant. Those that are not shut out stay.
func (t *Tx) DropDevices(meant func(*pb.Device) bool) error {
	var keys []string
	err := t.deviceKeys(func(key string, device *pb.Device) {
		if device.RevokedAt != nil && meant(device) {
			keys = append(keys, key)
		}
	})
	for _, key := range keys {
		if err == nil {
			err = t.tx.Delete(key)
		}
	}
	return err
}

// AllDevices visits the devices of all members.
func (t *Tx) AllDevices(visit func(*pb.Device)) error {
	return t.deviceKeys(func(_ string, device *pb.Device) { visit(device) })
}

func (t *Tx) deviceKeys(visit func(string, *pb.Device)) error {
	return t.tx.Scan("device/", "", func(key string, value []byte) (bool, error) {
		record := &pb.DeviceRecord{}
		err := decode(key, value, record)
		if err == nil {
			visit(key, record.GetDevice())
		}
		return err == nil, err
	})
}

// OweScrub remembers that the store is to be rewritten, since what is personal was deleted from it.
func (t *Tx) OweScrub(why string) error {
	return t.tx.Put(dueScrub.key(t.Now, why), nil)
}

// retainedKey is where it lies when it was last looked at what is kept too long.
const retainedKey = "retained"

// Retained tells when SaveRetained was last called; nil: never.
func (t *Tx) Retained() (*timestamppb.Timestamp, error) {
	data, err := t.tx.Get(retainedKey)
	if err != nil || data == nil {
		return nil, err
	}
	at := &timestamppb.Timestamp{}
	return at, decode(retainedKey, data, at)
}

// SaveRetained remembers that it was looked now at what is kept too long.
func (t *Tx) SaveRetained() error {
	before, err := t.keptDue()
	if err != nil {
		return err
	}
	if err := t.save(retainedKey, t.Stamp()); err != nil {
		return err
	}
	after, err := t.keptDue()
	if err != nil {
		return err
	}
	return t.move(before, after)
}
