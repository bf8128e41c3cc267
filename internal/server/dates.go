package server

import (
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// datesPast holds every date of a bike's facts against the calendar: it must be one, and not lie in the future of the
// club's day. The error names each that does not.
func datesPast(tx *ledger.Tx, facts *pb.BikeFacts) error {
	club, err := tx.ClubRecord()
	if err != nil {
		return err
	}
	zone, err := civil.Zone("club.zone", club.Zone)
	if err != nil {
		return err
	}
	today := tx.Now.In(zone).Format(civil.DateLayout)
	refused := &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: fault.NotAsItMustBe}
	err = protorange.Range(facts.ProtoReflect(), func(values protopath.Values) error {
		last := values.Index(-1)
		field := last.Step.FieldDescriptor()
		if field == nil || !isDate(field) {
			return nil
		}
		date, path := last.Value.String(), "facts"+values.Path[1:].String()
		if _, err := civil.Date(path, date); err != nil {
			refused.Fields = append(refused.Fields, fault.Field{Path: path, What: "\"" + date + "\" is not a day of the calendar"})
		} else if date > today {
			refused.Fields = append(refused.Fields, fault.Field{Path: path, What: date + " has not come yet; today is " + today})
		}
		return nil
	})
	if err == nil && len(refused.Fields) > 0 {
		return refused
	}
	return err
}

// isDate tells whether a field holds a civil date, as its option says.
func isDate(field protoreflect.FieldDescriptor) bool {
	file, _ := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField)
	return file.GetDate() && field.Kind() == protoreflect.StringKind && !field.IsList()
}
