package server

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// How many records a ride may have, and how often a record may be added to. Ours: far more than anything that happens.
const (
	maxIncidents  = 100
	maxAmendments = 200
)

// incidentDays is how many days after that of the ride's start something still counts as of the ride. Ours.
const incidentDays = 2

type incidentService struct {
	pb.UnsafeIncidentServiceServer
	*desk
}

// RecordIncident implements IncidentService.
func (s *incidentService) RecordIncident(ctx context.Context, request *pb.RecordIncidentRequest) (*pb.Incident, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	var incident *pb.Incident
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "RecordIncident", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		incident = proto.CloneOf(request.Incident)
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		if made, err := tx.Answered(asked); err != nil || made != "" {
			if err == nil {
				incident, err = s.incidentMade(tx, who, ride, made)
			}
			return err
		}
		if err := mayRecord(tx, who, ride, incident); err != nil {
			return err
		}
		if err := s.incidentSound(tx, who, ride, incident); err != nil {
			return err
		}
		count := 0
		if err := tx.Incidents(ids[1], "", maxIncidents, func(*pb.Incident) error { count++; return nil }); err != nil {
			return err
		}
		if count == maxIncidents {
			return fault.New(pb.Reason_WRONG_STATE, "the ride has %d incidents, and may not have more; add to one of them", count)
		}
		incident.RecordedBy, incident.RecordedByName, incident.Amendments, incident.Summary = who.member.Name, "", nil, nil
		if incident.Conditions, err = s.conditionsAt(tx, ride, incident.HappenedAt); err != nil {
			return err
		}
		if err := tx.AddIncident(ids[1], incident); err != nil {
			return err
		}
		if err := tx.Append(audit(who, "IncidentService/RecordIncident", incident.Name, "wrote an incident down")); err != nil {
			return err
		}
		if err := tx.Answer(asked, incident.Name); err != nil {
			return err
		}
		return s.shown(tx, who, ride, incident)
	})
	if err != nil {
		return nil, err
	}
	return incident, nil
}

// incidentMade is the incident that the same request made before.
func (s *incidentService) incidentMade(tx *ledger.Tx, who *caller, ride *pb.Ride, made string) (*pb.Incident, error) {
	number, err := strconv.ParseInt(names.Last(made), 10, 32)
	if err != nil {
		return nil, err
	}
	incident, err := tx.Incident(names.Last(ride.Name), int32(number))
	if err != nil {
		return nil, err
	}
	return incident, s.shown(tx, who, ride, incident)
}

// mayRecord refuses who neither keeps the club's records, nor leads on the ride, nor is a rider of it whom it concerns.
func mayRecord(tx *ledger.Tx, who *caller, ride *pb.Ride, incident *pb.Incident) error {
	if who.has(pb.Role_SECRETARY) {
		return nil
	}
	if leads, err := leadsOn(tx, who, names.Last(ride.Name)); err != nil || leads {
		return err
	}
	rider, err := wasRider(tx, ride, who.member.Name)
	if err != nil {
		return err
	}
	if !rider {
		return fault.New(pb.Reason_NOT_ALLOWED, "only a secretary, those who lead the ride, and its riders write incidents down")
	}
	if !concernsMember(incident.GetConcerned(), who.member.Name) {
		return fault.New(pb.Reason_NOT_ALLOWED, "a rider writes down what concerns the rider: name yourself among those concerned, or tell the ride's leader")
	}
	return nil
}

// incidentSound holds an incident against the ride and the club, and sets when it happened.
func (s *incidentService) incidentSound(tx *ledger.Tx, who *caller, ride *pb.Ride, incident *pb.Incident) error {
	const at = "incident."
	if incident == nil {
		return fault.Invalid("incident", "is missing: say what happened")
	}
	if ride.State == pb.Ride_CALLED_OFF {
		return fault.New(pb.Reason_WRONG_STATE, "the ride is called off: %s", ride.CallOffReason)
	}
	if incident.Injured == nil {
		return fault.Invalid(at+"injured", "say whether somebody was injured: yes or no; how, is not asked")
	}
	if (incident.LatDeg == nil) != (incident.LonDeg == nil) {
		return fault.Invalid(at+"lat_deg", "give both degrees north and degrees east, or neither")
	}
	if metres := incident.GetAtDistanceM(); ride.Route.GetDistanceM() > 0 && metres > ride.Route.DistanceM {
		return fault.Invalid(at+"at_distance_m", "lies beyond the route, which is %.1f km long", ride.Route.DistanceM/1000)
	}
	_, zone, err := s.zone(tx)
	if err != nil {
		return err
	}
	happened, err := civil.Instant(at+"happened_local", incident.HappenedLocal, zone)
	if err != nil {
		return err
	}
	first, _, _ := strings.Cut(ride.StartLocal, "T")
	start, err := civil.Date("ride.start_local", first)
	if err != nil {
		return err
	}
	last := start.AddDate(0, 0, incidentDays).Format(civil.DateLayout)
	switch day := happened.In(zone).Format(civil.DateLayout); {
	case day < first || day > last:
		return fault.Invalid(at+"happened_local", "is not on the day of the ride, %s, or one of the two after it", first)
	case happened.After(tx.Now.Add(clockSlack)):
		return fault.Invalid(at+"happened_local", "has not come yet")
	}
	incident.HappenedAt = timestamppb.New(happened)
	if err := peopleSound(tx, who, ride, incident); err != nil {
		return err
	}
	return fileNames(at+"photographs", incident.Photographs)
}

// fileNames refuses what is a path: the folders of somebody's machine tell of them and nobody finds a picture by them.
func fileNames(path string, photographs []string) error {
	for i, one := range photographs {
		if strings.ContainsAny(one, `/\`) || one == "." || one == ".." {
			return fault.Invalid(fmt.Sprintf("%s[%d]", path, i), "must be the name of a file, without folders")
		}
	}
	return nil
}

// conditionsAt copies what a ride's plan says of a time: of its newest roster, else as things stand; nil without a plan.
func (s *incidentService) conditionsAt(tx *ledger.Tx, ride *pb.Ride, at *timestamppb.Timestamp) (*pb.IncidentConditions, error) {
	found := &pb.IncidentConditions{}
	var plan *pb.RidePlan
	if ride.RosterNumber > 0 {
		issue, err := tx.Roster(names.Last(ride.Name), ride.RosterNumber)
		if err != nil {
			return nil, err
		}
		plan, found.Issue = issue.Plan, issue.Number
	} else {
		g, err := s.ground(tx, names.Last(ride.Name))
		if fault.Is(err, pb.Reason_NO_POLICY) {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		plan = g.plan
	}
	for _, hour := range plan.Weather {
		if found.Weather == nil || !hour.FromAt.AsTime().After(at.AsTime()) {
			found.Weather = proto.CloneOf(hour.Weather)
		}
	}
	for _, group := range plan.Groups {
		found.Ice = max(found.Ice, group.Ice)
		for _, span := range group.Light {
			if span.Dark && !at.AsTime().Before(span.FromAt.AsTime()) && at.AsTime().Before(span.ToAt.AsTime()) {
				found.Dark = true
			}
		}
	}
	return found, nil
}

// AmendIncident implements IncidentService.
func (s *incidentService) AmendIncident(ctx context.Context, request *pb.AmendIncidentRequest) (*pb.IncidentAmendment, error) {
	who := callerOf(ctx)
	added := &pb.IncidentAmendment{By: who.member.Name, Text: request.Text, Photographs: request.Photographs}
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "AmendIncident", Message: request}
	err := s.onIncident(ctx, who, request.Name, s.update, func(tx *ledger.Tx, ride *pb.Ride, incident *pb.Incident) error {
		if incident.RecordedBy != who.member.Name && !mayRead(who, ride, incident) {
			return notYourIncident()
		}
		if request.Text == "" && len(request.Photographs) == 0 {
			return fault.Invalid("text", "say what to add: words, or file names of photographs")
		}
		if err := fileNames("photographs", request.Photographs); err != nil {
			return err
		}
		if made, err := tx.Answered(asked); err != nil || made != "" {
			if err == nil {
				added, err = amendmentMade(incident, made)
			}
			return err
		}
		if err := tx.Answer(asked, incident.Name+"/amendments/"+strconv.Itoa(len(incident.Amendments)+1)); err != nil {
			return err
		}
		if err := amend(tx, incident, added); err != nil {
			return err
		}
		return tx.Append(audit(who, "IncidentService/AmendIncident", incident.Name, "added to an incident"))
	})
	if err != nil {
		return nil, err
	}
	added.ByName = who.member.DisplayName
	return added, nil
}

// amendmentMade is what the same request added before.
func amendmentMade(incident *pb.Incident, made string) (*pb.IncidentAmendment, error) {
	number, err := strconv.Atoi(names.Last(made))
	if err == nil && (number < 1 || number > len(incident.Amendments)) {
		err = fmt.Errorf("%s is answered to have been added, and is not there", made)
	}
	if err != nil {
		return nil, err
	}
	return incident.Amendments[number-1], nil
}

func amend(tx *ledger.Tx, incident *pb.Incident, added *pb.IncidentAmendment) error {
	if len(incident.Amendments) >= maxAmendments {
		return fault.New(pb.Reason_WRONG_STATE, "the record has been added to %d times, and may not be more", len(incident.Amendments))
	}
	return tx.AmendIncident(incident, added)
}

// MarkReported implements IncidentService.
func (s *incidentService) MarkReported(ctx context.Context, request *pb.MarkReportedRequest) (summary *pb.IncidentSummary, err error) {
	who := callerOf(ctx)
	if (request.ReportedOn == "") != request.NeedNotBe {
		return nil, fault.Invalid("reported_on", "say on which day it was reported, or that it need not be: one of the two")
	}
	if request.NeedNotBe && request.Note == "" {
		return nil, fault.Invalid("note", "say why it need not be reported")
	}
	added := &pb.IncidentAmendment{By: who.member.Name, Text: request.Note, ReportedOn: request.ReportedOn, Insurer: pb.IncidentAmendment_REPORTED}
	if request.NeedNotBe {
		added.Insurer = pb.IncidentAmendment_NEED_NOT_BE
	}
	err = s.onIncident(ctx, who, request.Name, s.update, func(tx *ledger.Tx, ride *pb.Ride, incident *pb.Incident) error {
		if err := s.reportedDay(tx, request.ReportedOn, incident); err != nil {
			return err
		}
		if err := amend(tx, incident, added); err != nil {
			return err
		}
		incident.Amendments = append(incident.Amendments, added)
		if summary, err = s.incidentSummary(tx, ride, incident); err != nil {
			return err
		}
		return tx.Append(audit(who, "IncidentService/MarkReported", incident.Name, "said how an incident stands with the insurer"))
	})
	if err != nil {
		return nil, err
	}
	return summary, nil
}

// reportedDay refuses a day of reporting before the incident or after today.
func (s *incidentService) reportedDay(tx *ledger.Tx, day string, incident *pb.Incident) error {
	if day == "" {
		return nil
	}
	if _, err := civil.Date("reported_on", day); err != nil {
		return err
	}
	_, zone, err := s.zone(tx)
	if err != nil {
		return err
	}
	if first := incident.HappenedAt.AsTime().In(zone).Format(civil.DateLayout); day < first {
		return fault.Invalid("reported_on", "is before the day of the incident, %s", first)
	}
	if today := tx.Now.In(zone).Format(civil.DateLayout); day > today {
		return fault.Invalid("reported_on", "has not come yet; today is %s", today)
	}
	return nil
}

// ReadIncident implements IncidentService.
func (s *incidentService) ReadIncident(ctx context.Context, request *pb.ReadIncidentRequest) (read *pb.Incident, err error) {
	who := callerOf(ctx)
	err = s.onIncident(ctx, who, request.Name, s.update, func(tx *ledger.Tx, ride *pb.Ride, incident *pb.Incident) error {
		if !mayRead(who, ride, incident) {
			return notYourIncident()
		}
		read = incident
		if err := s.shown(tx, who, ride, incident); err != nil {
			return err
		}
		return tx.Append(audit(who, "IncidentService/ReadIncident", incident.Name, "read an incident"))
	})
	if err != nil {
		return nil, err
	}
	return read, nil
}

// mayRead tells who may read a record: secretaries, the ride's leader, the members whom it concerns.
func mayRead(who *caller, ride *pb.Ride, incident *pb.Incident) bool {
	return who.has(pb.Role_SECRETARY) || ride.Leader == who.member.Name || concernsMember(incident.Concerned, who.member.Name)
}

// notYourIncident does not tell whether there is such a record.
func notYourIncident() error {
	return fault.New(pb.Reason_NOT_ALLOWED, "only for a secretary, the ride's leader, and the members whom it concerns")
}

// onIncident runs a use case about one incident.
func (s *incidentService) onIncident(ctx context.Context, who *caller, name string,
	run func(context.Context, *caller, func(*ledger.Tx) error) error, use func(*ledger.Tx, *pb.Ride, *pb.Incident) error) error {
	ids, err := names.In(who.club, "name", name, names.IncidentShape)
	if err != nil {
		return err
	}
	number, err := strconv.ParseInt(ids[2], 10, 32)
	if err != nil || number < 1 || strconv.FormatInt(number, 10) != ids[2] {
		return fault.Invalid("name", "must end in the number of the incident, from 1")
	}
	return run(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		incident, err := tx.Incident(ids[1], int32(number))
		if fault.Is(err, pb.Reason_NOT_FOUND) && !who.has(pb.Role_SECRETARY) && ride.Leader != who.member.Name {
			return notYourIncident()
		}
		if err != nil {
			return err
		}
		return use(tx, ride, incident)
	})
}
