package bolt

import (
	"encoding/binary"
	"hash/crc32"
	"math/rand/v2"

	"go.etcd.io/bbolt"
)

// epoch is the number of a state of the file that a journal belongs to.
type epoch [8]byte

func newEpoch() (e epoch) {
	binary.LittleEndian.PutUint64(e[:], rand.Uint64()) //nolint:gosec // nobody has to be kept from guessing it
	return e
}

// epochs are the one that a file is in, and the one before.
type epochs struct{ now, before epoch }

func epochsKey() []byte { return []byte("journal") }

// epochsOf reads them.
func epochsOf(under *bbolt.Tx) (of epochs) {
	record := under.Bucket(metaBucket()).Get(epochsKey())
	if len(record) != 4+2*len(epoch{}) || binary.BigEndian.Uint32(record) != crc32.Checksum(record[4:], castagnoli) {
		damaged("the number of its journal is not as it was written")
	}
	copy(of.before[:], record[4+copy(of.now[:], record[4:]):])
	return of
}

func writeEpochs(under *bbolt.Tx, of epochs) error {
	numbers := append(of.now[:], of.before[:]...)
	record := binary.BigEndian.AppendUint32(nil, crc32.Checksum(numbers, castagnoli))
	return under.Bucket(metaBucket()).Put(epochsKey(), append(record, numbers...))
}

// beginEpochs takes a file from schema number 3 to 4.
func beginEpochs(db *bbolt.DB) error {
	return db.Update(func(tx *bbolt.Tx) error { return writeEpochs(tx, epochs{now: newEpoch()}) })
}
