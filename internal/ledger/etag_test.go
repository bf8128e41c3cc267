package ledger_test

import (
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// saveTagged saves a record that carries an etag.
func saveTagged(tx *ledger.Tx, record proto.Message) error {
	switch r := record.(type) {
	case *pb.Member:
		return tx.SaveMember(r)
	case *pb.Bike:
		return tx.SaveBike(r)
	case *pb.Ride:
		return tx.SaveRide(r)
	}
	return tx.SaveSignup(record.(*pb.Signup))
}

// computed are the fields of a sign-up that are worked out when it is read.
func computed(field protoreflect.FieldDescriptor) bool {
	return field.Parent().Name() == "Signup" && slices.Contains([]protoreflect.Name{"standings", "display_name", "guest_of", "waiting_before"}, field.Name())
}

// An etag changes with every stored field of the record, and with nothing else.
func TestEtagChangesWithTheRecord(t *testing.T) {
	for _, record := range []proto.Message{
		&pb.Member{Name: names.Member(club, "ann")}, &pb.Bike{Name: names.Bike(club, "ann", "blue")},
		&pb.Ride{Name: names.Ride(club, "r")}, &pb.Signup{Name: names.Signup(club, "r", "ann")},
	} {
		kind := record.ProtoReflect().Descriptor()
		t.Run(string(kind.Name()), func(t *testing.T) {
			b := open(t)
			etagOf := func(of proto.Message) (etag string) {
				b.write(func(tx *ledger.Tx) error { return saveTagged(tx, of) })
				return of.(interface{ GetEtag() string }).GetEtag()
			}
			plain := etagOf(proto.Clone(record))
			seen := map[string]protoreflect.Name{plain: "nothing"}
			for i := range kind.Fields().Len() {
				field := kind.Fields().Get(i)
				if field.Name() == "name" || field.Name() == "etag" {
					continue
				}
				changed := proto.Clone(record)
				set(changed.ProtoReflect(), field)
				etag := etagOf(changed)
				if computed(field) {
					if etag != plain {
						t.Errorf("the etag changes with %s, which is not stored", field.Name())
					}
					continue
				}
				if other, again := seen[etag]; again {
					t.Errorf("%s gives the etag that %s gives", field.Name(), other)
				}
				seen[etag] = field.Name()
			}
			stale := proto.Clone(record)
			stale.ProtoReflect().Set(kind.Fields().ByName("etag"), protoreflect.ValueOfString("0123456789abcdef"))
			if etag := etagOf(stale); etag != plain || len(etag) != 16 {
				t.Errorf("the etag depends on the old one: %q and %q", plain, etag)
			}
		})
	}
}

// set gives a field a value that is not its zero.
func set(record protoreflect.Message, field protoreflect.FieldDescriptor) {
	switch {
	case field.IsList():
		list := record.Mutable(field).List()
		if field.Message() != nil {
			list.Append(list.NewElement())
			return
		}
		list.Append(one(field))
	case field.Message() != nil:
		record.Mutable(field)
	default:
		record.Set(field, one(field))
	}
}

func one(field protoreflect.FieldDescriptor) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString("x")
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(true)
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(1)
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(1)
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(1)
	}
	panic("say here what a " + field.Kind().String() + " is")
}

func TestUnchanged(t *testing.T) {
	record := &pb.Ride{Etag: "0123456789abcdef"}
	for _, read := range []string{"", "0123456789abcdef"} {
		if err := ledger.Unchanged(read, record, "clubs/moor/rides/r"); err != nil {
			t.Errorf("%q: %v", read, err)
		}
	}
	for _, read := range []string{"0123456789abcdeF", "0123456789abcde", " ", "*", "\xff"} {
		wantFault(t, ledger.Unchanged(read, record, "clubs/moor/rides/r"), pb.Reason_CHANGED_MEANWHILE,
			"clubs/moor/rides/r was changed by someone else since it was read; read it again and repeat the change")
	}
}

// SHA-256 of "abc": FIPS 180-4's example, as published with it by NIST.
func TestDigest(t *testing.T) {
	const want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if got := ledger.Digest([]byte("abc")); got != want {
		t.Errorf("got %s", got)
	}
}
