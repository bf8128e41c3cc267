package server

import (
	"context"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/seal"
	pb "gritward/proto/gritward/v1"
)

type personalService struct {
	pb.UnsafePersonalServiceServer
	*desk
	keys     *seal.Keys
	erasures *Erasures
}

// SetEmergencyContacts implements PersonalService.
func (s *personalService) SetEmergencyContacts(ctx context.Context, request *pb.SetEmergencyContactsRequest) (*pb.EmergencyContacts, error) {
	who, contacts := callerOf(ctx), request.Contacts
	ids, err := names.In(who.club, "contacts.name", contacts.Name, names.ContactsShape)
	if err != nil {
		return nil, err
	}
	if err := tidy(contacts); err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		contacts = proto.CloneOf(request.Contacts)
		before, err := tx.Contacts(s.keys, ids[1])
		if err != nil {
			return err
		}
		if before != nil && request.NoneKnown {
			return ledger.MadeMeanwhile(contacts.Name)
		}
		if err := ledger.Unchanged(contacts.Etag, before, contacts.Name); err != nil {
			return err
		}
		nothing, what := len(contacts.Call) == 0 && contacts.MedicalNote == "", "gave emergency contacts"
		switch contacts.ChangedAt = tx.Stamp(); {
		case nothing && before == nil:
			contacts.Etag, contacts.ChangedAt = "", nil
			return nil
		case nothing:
			contacts.Etag, contacts.ChangedAt, what = "", nil, "took the emergency contacts away"
			err = tx.DropContacts(ids[1])
		default:
			err = tx.SaveContacts(s.keys, contacts)
		}
		if err != nil {
			return err
		}
		return tx.Append(audit(who, "PersonalService/SetEmergencyContacts", contacts.Name, what))
	})
	if err != nil {
		return nil, err
	}
	return contacts, nil
}

// tidy takes needless white space out of contacts, which must not leave a name blank or a number too short.
func tidy(contacts *pb.EmergencyContacts) error {
	oneLine := func(text string) string { return strings.Join(strings.Fields(text), " ") }
	contacts.MedicalNote = strings.TrimSpace(contacts.MedicalNote)
	for i, one := range contacts.Call {
		one.ContactName, one.Phone, one.Relation = oneLine(one.ContactName), oneLine(one.Phone), oneLine(one.Relation)
		if one.ContactName == "" {
			return fault.Invalid("contacts.call["+strconv.Itoa(i)+"].contact_name", "must not be blank")
		}
	}
	return nil
}

// GetEmergencyContacts implements PersonalService.
func (s *personalService) GetEmergencyContacts(ctx context.Context, request *pb.GetEmergencyContactsRequest) (contacts *pb.EmergencyContacts, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.ContactsShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		contacts, err = tx.Contacts(s.keys, ids[1])
		return err
	})
	if err == nil && contacts == nil {
		contacts = &pb.EmergencyContacts{Name: request.Name}
	}
	return contacts, err
}

// ListContactReadings implements PersonalService.
func (s *personalService) ListContactReadings(ctx context.Context, request *pb.ListContactReadingsRequest) (*pb.ListContactReadingsResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.MemberShape)
	if err != nil {
		return nil, err
	}
	before := 0
	if request.PageToken != "" {
		if before, err = strconv.Atoi(request.PageToken); err != nil || before < 1 {
			return nil, badToken()
		}
	}
	response, size := &pb.ListContactReadingsResponse{}, pageSize(request.PageSize)
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		return tx.ReadingsDown(ids[1], before, size+1, func(reading *pb.ContactReading) error {
			if len(response.Readings) == size {
				response.NextPageToken = names.Last(response.Readings[size-1].Name)
				return nil
			}
			response.Readings = append(response.Readings, reading)
			return inWords(tx, reading)
		})
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// inWords fills in what a reading is computed with when it is read: the reader's name and the ride's title.
func inWords(tx *ledger.Tx, reading *pb.ContactReading) error {
	reader, err := tx.Member(names.Last(reading.Reader))
	if err != nil && !fault.Is(err, pb.Reason_NOT_FOUND) {
		return err
	}
	ride, err := tx.Ride(names.Last(reading.Ride))
	if err != nil && !fault.Is(err, pb.Reason_NOT_FOUND) {
		return err
	}
	reading.ReaderName, reading.RideTitle = reader.GetDisplayName(), ride.GetTitle()
	return nil
}
