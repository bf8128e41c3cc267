package bolt

import (
	"errors"
	"fmt"

	"go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// Schema is the number of the newest layout that this program reads and writes. Number 1: bucket "clubs" holds a bucket
// for each club, with its keys; bucket "meta" holds a pb.StoreInfo under "info". Number 2: each value has its sums before it
// (sums.go), "meta" holds under "clubs" which clubs have keys, and one without has no bucket. Number 3: the
// records say under due/ what is to be done by when, which the ledger puts in when it first opens them; a program from before would not
// keep that up. A new number comes with a step, and with a stored file in testdata.
const Schema = 4

// schemaStep takes the file of a store from one schema number to the next. It may use as many transactions as it likes: it is
// given a copy, which is thrown away when it does not come to its end.
type schemaStep = func(*bbolt.DB) error

// steps are those of the released numbers: the first takes a store from number 1 to 2, the second changes nothing but the number.
func steps() []schemaStep {
	return []schemaStep{addSums, func(*bbolt.DB) error { return nil }, beginEpochs}
}

func metaBucket() []byte  { return []byte("meta") }
func clubsBucket() []byte { return []byte("clubs") }
func infoKey() []byte     { return []byte("info") }

// checkSchema lays out a new file, and refuses one that is not a store or has a schema that is not known.
func checkSchema(db *bbolt.DB, options Options) error {
	var data []byte
	fresh := false
	err := db.View(func(tx *bbolt.Tx) error {
		first, _ := tx.Cursor().First()
		fresh = first == nil
		if meta := tx.Bucket(metaBucket()); meta != nil && tx.Bucket(clubsBucket()) != nil {
			data = append(data, meta.Get(infoKey())...)
		}
		return nil
	})
	switch {
	case err != nil:
		return explain(options, err)
	case fresh && !options.ReadOnly:
		return layOut(db, options)
	}
	info := &pb.StoreInfo{}
	if err := proto.Unmarshal(data, info); err != nil || info.Schema < 1 {
		return fmt.Errorf("store: %s is another program's file, or is damaged (no schema number): restore it from a backup, or point --data elsewhere", options.Path)
	}
	if newest := options.newest(); info.Schema > newest {
		return fmt.Errorf("store: %s has schema %d and this program knows schemas up to %d: start a newer program, or restore a backup from before the upgrade",
			options.Path, info.Schema, newest)
	}
	return nil
}

// schemaOf reads the number of a file that checkSchema let pass.
func schemaOf(db *bbolt.DB) (number int32, err error) {
	return number, db.View(func(tx *bbolt.Tx) error {
		info := &pb.StoreInfo{}
		err := proto.Unmarshal(tx.Bucket(metaBucket()).Get(infoKey()), info)
		number = info.Schema
		return err
	})
}

// layOut makes the buckets of a new store.
func layOut(db *bbolt.DB, options Options) error {
	err := db.Update(func(tx *bbolt.Tx) error {
		data, err := proto.Marshal(&pb.StoreInfo{Schema: options.newest(), CreatedAt: timestamppb.New(options.Now())})
		if err != nil {
			return err
		}
		if _, err := tx.CreateBucket(clubsBucket()); err != nil {
			return err
		}
		meta, err := tx.CreateBucket(metaBucket())
		if err != nil {
			return err
		}
		if err := meta.Put(infoKey(), data); err != nil {
			return err
		}
		return errors.Join(writeClubList(tx, nil), writeEpochs(tx, epochs{now: newEpoch()}))
	})
	if err != nil {
		return fmt.Errorf("store: %s could not be begun: %w: look at the disk's space and health", options.Path, err)
	}
	return nil
}
