package bolt

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// migrating ends the name of the file in which an older store is taken to the newest schema number; beside the store until it
// takes its place.
const migrating = ".migrating"

// newest gives a file of the newest schema number for one that was opened. An older one is copied, and the steps are done in
// the copy, which then takes its place: until then it stands as it was, whatever happens, and nothing of it is kept after.
// Who only reads has the copy in a file without a name.
func newest(options Options, db *bbolt.DB) (*bbolt.DB, error) {
	number, err := schemaOf(db)
	if err == nil && number == options.newest() {
		return db, nil
	}
	var fresh *bbolt.DB
	if err == nil {
		fresh, err = stepped(options, db, number)
	}
	err = errors.Join(err, options.wasCopied(db))
	if err == nil {
		return fresh, nil
	}
	if fresh != nil {
		err = errors.Join(err, fresh.Close())
	}
	return nil, fmt.Errorf("store: %s has schema %d and could not be taken to schema %d: %w: see that the disk is healthy and has "+
		"room for it once more, and try again", options.Path, number, options.newest(), err)
}

// stepped copies a file, takes the copy to the newest schema number and puts it in place.
func stepped(options Options, old *bbolt.DB, number int32) (fresh *bbolt.DB, err error) {
	path, err := filepath.EvalSymlinks(options.Path)
	if err != nil {
		return nil, err
	}
	beside := path + migrating
	if options.ReadOnly {
		file, err := os.CreateTemp("", "gritward-*"+migrating)
		if err != nil {
			return nil, err
		}
		if beside = file.Name(); file.Close() != nil {
			return nil, fmt.Errorf("cannot write %s", beside)
		}
	} else if options.Tell != nil {
		options.Tell(fmt.Sprintf("Taking %s from schema %d to %d. Until that is done it stays as it was; after, an older program refuses it.",
			options.Path, number, options.newest()))
	}
	err = guarded(options, func() error {
		if fresh, err = copyTo(beside, old); err != nil {
			return err
		}
		if err := advance(fresh, options.steps, number); err != nil {
			return err
		}
		return fresh.Sync()
	})
	switch {
	case err == nil && !options.ReadOnly:
		err = os.Rename(beside, path)
	case err == nil:
		err = os.Remove(beside) // it is gone when it is closed, or the process ends
	}
	if err != nil {
		if fresh != nil {
			err = errors.Join(err, fresh.Close())
		}
		_ = os.Remove(beside)
		return nil, err
	}
	if options.ReadOnly {
		return fresh, nil
	}
	return fresh, syncFolder(filepath.Dir(path))
}

// advance does the steps from a number on, and writes the number that was reached.
func advance(db *bbolt.DB, steps []schemaStep, number int32) error {
	for _, next := range steps[number-1:] {
		if err := next(db); err != nil {
			return err
		}
	}
	return db.Update(func(tx *bbolt.Tx) error {
		meta, info := tx.Bucket(metaBucket()), &pb.StoreInfo{}
		if err := proto.Unmarshal(meta.Get(infoKey()), info); err != nil {
			return err
		}
		info.Schema = int32(len(steps)) + 1
		data, err := proto.Marshal(info)
		if err != nil {
			return err
		}
		return meta.Put(infoKey(), data)
	})
}

// eachValue is for steps: it writes every value of every club anew as change gives it, some MiB in one transaction. What change
// is given is to be read only, and only until it returns.
func eachValue(db *bbolt.DB, change func(club, key string, value []byte) ([]byte, error)) error {
	return eachRecord(db, func(club, key string, record []byte) ([]byte, error) {
		k := fileKeys{sums: sumsOf(club), club: club}
		made, err := change(club, key, k.open([]byte(key), record))
		if err != nil {
			return nil, err
		}
		return k.resum(record, key, made), nil
	})
}

// eachRecord is eachValue for values with their sums, or from before there were any.
func eachRecord(db *bbolt.DB, change func(club, key string, value []byte) ([]byte, error)) error {
	var clubs []string
	err := db.View(func(tx *bbolt.Tx) error {
		return tx.Bucket(clubsBucket()).ForEachBucket(func(club []byte) error {
			clubs = append(clubs, string(club))
			return nil
		})
	})
	for _, club := range clubs {
		for after, more := "", true; more && err == nil; {
			err = db.Update(func(tx *bbolt.Tx) (err error) {
				after, more, err = someValues(tx, club, after, change)
				return err
			})
		}
	}
	return err
}

// someValues is eachValue for the keys of a club after the one given, as many as go into one transaction. It gives the last one,
// and tells whether more may follow.
func someValues(tx *bbolt.Tx, club, after string, change func(club, key string, value []byte) ([]byte, error)) (last string, more bool, err error) {
	keys := tx.Bucket(clubsBucket()).Bucket([]byte(club))
	type one struct{ key, value []byte }
	var fresh []one
	cursor, size := keys.Cursor(), 0
	key, value := cursor.Seek([]byte(after))
	if after != "" && string(key) == after {
		key, value = cursor.Next()
	}
	for ; key != nil && size < scrubBytes; key, value = cursor.Next() {
		made, err := change(club, string(key), value)
		if err != nil {
			return "", false, fmt.Errorf("%s, %q: %w", club, key, err)
		}
		last = string(key)
		fresh = append(fresh, one{[]byte(last), made})
		size += len(key) + len(made)
	}
	for _, f := range fresh { // not while the cursor is under way
		if err := keys.Put(f.key, f.value); err != nil {
			return "", false, err
		}
	}
	return last, key != nil, nil
}
