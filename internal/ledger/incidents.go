package ledger

import (
	"fmt"
	"strconv"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddIncident writes the record of an incident of a ride under the next number, and gives it its name and time. Numbers
// are not used again while a later record is there.
func (t *Tx) AddIncident(ride string, incident *pb.Incident) error {
	number := int32(1)
	err := eachDown(t, "incident/"+ride+"/", "", newIncident, func(last *pb.Incident) error {
		before, err := incidentNumber(last.Name)
		number = before + 1
		if err != nil {
			return err
		}
		return errStop
	})
	if err != nil {
		return err
	}
	incident.Name, incident.RecordedAt = names.Incident(t.Club, ride, number), t.Stamp()
	return t.add(incidentKey(ride, number), incident, incident.Name, names.Incident(t.Club, ride, number))
}

// Incident reads the record of an incident, with what was appended.
func (t *Tx) Incident(ride string, number int32) (*pb.Incident, error) {
	incident, err := load(t, incidentKey(ride, number), names.Incident(t.Club, ride, number), newIncident())
	if err != nil {
		return nil, err
	}
	return incident, t.amended(incident)
}

// amended puts what was appended into a record.
func (t *Tx) amended(incident *pb.Incident) error {
	number, err := incidentNumber(incident.Name)
	if err != nil {
		return err
	}
	return each(t, amendmentKeys(names.Part(incident.Name, "rides"), number), "", newAmendment, func(one *pb.IncidentAmendment) error {
		incident.Amendments = append(incident.Amendments, one)
		return nil
	})
}

// AmendIncident appends to a record read by Incident, and gives the amendment its number and time.
func (t *Tx) AmendIncident(incident *pb.Incident, amendment *pb.IncidentAmendment) error {
	number, err := incidentNumber(incident.Name)
	if err != nil {
		return err
	}
	amendment.Number, amendment.At = int32(len(incident.Amendments))+1, t.Stamp()
	key := fmt.Sprintf("%s%08d", amendmentKeys(names.Part(incident.Name, "rides"), number), amendment.Number)
	data, err := t.tx.Get(key)
	if err != nil {
		return err
	}
	if data != nil {
		return fault.New(pb.Reason_ALREADY_EXISTS, "there is an amendment %d of %s already, and it stays as it is", amendment.Number, incident.Name)
	}
	return t.save(key, amendment)
}

// Incidents visits the incidents of a ride ("": of all rides), with what was appended: the latest ride first, of each the
// newest first. It begins before the name given; at most limit, 0: all.
func (t *Tx) Incidents(ride, before string, limit int, visit func(*pb.Incident) error) error {
	prefix, key := "incident/", ""
	if ride != "" {
		prefix += ride + "/"
	}
	if before != "" {
		number, err := incidentNumber(before)
		if err != nil {
			return err
		}
		key = incidentKey(names.Part(before, "rides"), number)
	}
	return eachDown(t, prefix, key, newIncident, limited(limit, func(incident *pb.Incident) error {
		if err := t.amended(incident); err != nil {
			return err
		}
		return visit(incident)
	}))
}

// DropIncident deletes the record of an incident and what was appended to it. It lies in the store's file until Scrub; that
// it is owed is remembered.
func (t *Tx) DropIncident(incident *pb.Incident) error {
	number, err := incidentNumber(incident.Name)
	if err != nil {
		return err
	}
	ride := names.Part(incident.Name, "rides")
	for _, one := range incident.Amendments {
		if err := t.tx.Delete(fmt.Sprintf("%s%08d", amendmentKeys(ride, number), one.Number)); err != nil {
			return err
		}
	}
	if err := t.tx.Delete(incidentKey(ride, number)); err != nil {
		return err
	}
	return t.OweScrub("incidents")
}

func newIncident() *pb.Incident { return &pb.Incident{} }

func newAmendment() *pb.IncidentAmendment { return &pb.IncidentAmendment{} }

func incidentNumber(name string) (int32, error) {
	number, err := strconv.ParseInt(names.Last(name), 10, 32)
	if err != nil {
		return 0, fault.Invalid("name", "%.80q does not end in the number of an incident", name)
	}
	return int32(number), nil
}

func incidentKey(ride string, number int32) string {
	return fmt.Sprintf("incident/%s/%08d", ride, number)
}

func amendmentKeys(ride string, number int32) string {
	return fmt.Sprintf("incidentadd/%s/%08d/", ride, number)
}
