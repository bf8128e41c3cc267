package ledger

import (
	"fmt"
	"strconv"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/seal"
	pb "gritward/proto/gritward/v1"
)

// contactPrefix is where sealed emergency contacts lie, by the id of the member.
const contactPrefix = "contact/"

// Contacts reads and opens a member's emergency contacts; nil when there are none.
func (t *Tx) Contacts(keys *seal.Keys, member string) (*pb.EmergencyContacts, error) {
	name := names.Contacts(t.Club, member)
	record, err := load(t, contactPrefix+member, name, &pb.SealedRecord{})
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	plain, err := keys.Open(name, record.KeyId, record.Sealed)
	if err != nil {
		return nil, err
	}
	contacts := &pb.EmergencyContacts{}
	return contacts, decode(contactPrefix+member, plain, contacts)
}

// SaveContacts seals a member's emergency contacts and writes them under their name, with a new etag.
func (t *Tx) SaveContacts(keys *seal.Keys, contacts *pb.EmergencyContacts) error {
	ids, err := t.ids(contacts.Name, names.ContactsShape)
	if err != nil {
		return err
	}
	if err := tag(contacts, func(c *pb.EmergencyContacts, etag string) { c.Etag = etag }); err != nil {
		return err
	}
	plain, err := encoding.Marshal(contacts)
	if err != nil {
		return err
	}
	return t.saveSealed(keys, contactPrefix+ids[1], contacts.Name, plain)
}

func (t *Tx) saveSealed(keys *seal.Keys, key, name string, plain []byte) error {
	id, sealed, err := keys.Seal(name, plain)
	if err != nil {
		return err
	}
	return t.save(key, &pb.SealedRecord{KeyId: id, Sealed: sealed})
}

// DropContacts takes away a member's emergency contacts, if there are any.
func (t *Tx) DropContacts(member string) error { return t.tx.Delete(contactPrefix + member) }

// SealedWith counts the club's sealed records by the id of their key.
func (t *Tx) SealedWith() (map[string]int, error) {
	count := map[string]int{}
	return count, each(t, contactPrefix, "", func() *pb.SealedRecord { return &pb.SealedRecord{} }, func(record *pb.SealedRecord) error {
		count[record.KeyId]++
		return nil
	})
}

// Reseal seals with the newest key every record of the club that is sealed with another, and tells how many.
func (t *Tx) Reseal(keys *seal.Keys) (int, error) {
	old := map[string]*pb.SealedRecord{}
	err := t.tx.Scan(contactPrefix, "", func(key string, value []byte) (bool, error) {
		record := &pb.SealedRecord{}
		err := decode(key, value, record)
		if err == nil && record.KeyId != keys.ID() {
			old[key] = record
		}
		return err == nil, err
	})
	if err != nil {
		return 0, err
	}
	for key, record := range old {
		name := names.Contacts(t.Club, key[len(contactPrefix):])
		plain, err := keys.Open(name, record.KeyId, record.Sealed)
		if err != nil {
			return 0, err
		}
		if err := t.saveSealed(keys, key, name, plain); err != nil {
			return 0, err
		}
	}
	return len(old), nil
}

// AddReading appends that somebody read a member's emergency contacts, and gives it its name and time.
func (t *Tx) AddReading(member string, reading *pb.ContactReading) error {
	number := 1
	err := t.ReadingsDown(member, 0, 1, func(last *pb.ContactReading) error {
		before, err := strconv.Atoi(names.Last(last.Name))
		number = before + 1
		return err
	})
	if err != nil {
		return err
	}
	reading.Name, reading.At = names.Reading(t.Club, member, number), t.Stamp()
	reading.ReaderName, reading.RideTitle = "", ""
	return t.add(readingKey(member, number), reading, reading.Name, names.Reading(t.Club, member, number))
}

// ReadingsDown visits who read a member's emergency contacts, newest first, from the one before the number given, 0: from
// the last; at most limit, 0: all.
func (t *Tx) ReadingsDown(member string, before, limit int, visit func(*pb.ContactReading) error) error {
	key := ""
	if before > 0 {
		key = readingKey(member, before)
	}
	return eachDown(t, "reading/"+member+"/", key, func() *pb.ContactReading { return &pb.ContactReading{} }, limited(limit, visit))
}

func readingKey(member string, number int) string {
	return fmt.Sprintf("reading/%s/%08d", member, number)
}
