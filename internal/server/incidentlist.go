package server

import (
	"context"
	"math"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// ListIncidents implements IncidentService.
func (s *incidentService) ListIncidents(ctx context.Context, request *pb.ListIncidentsRequest) (*pb.ListIncidentsResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	if request.PageToken != "" {
		if _, err := names.In(who.club, "page_token", request.PageToken, names.IncidentShape); err != nil {
			return nil, badToken()
		}
	}
	response, size := &pb.ListIncidentsResponse{}, pageSize(request.PageSize)
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		rides := map[string]*pb.Ride{}
		return tx.Incidents("", request.PageToken, 0, func(incident *pb.Incident) error {
			if response.NextPageToken != "" {
				return nil
			}
			ride, err := rideOnce(tx, rides, names.Part(incident.Name, "rides"))
			if err != nil || !mayRead(who, ride, incident) || request.NotReported && insurer(incident) != 0 {
				return err
			}
			if len(response.Incidents) == size {
				response.NextPageToken = response.Incidents[size-1].Name
				return nil
			}
			summary, err := s.incidentSummary(tx, ride, incident)
			response.Incidents = append(response.Incidents, summary)
			return err
		})
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

func rideOnce(tx *ledger.Tx, read map[string]*pb.Ride, id string) (*pb.Ride, error) {
	if ride := read[id]; ride != nil {
		return ride, nil
	}
	ride, err := tx.Ride(id)
	read[id] = ride
	return ride, err
}

// insurer is what was said last of how an incident stands with the insurer.
func insurer(incident *pb.Incident) (last pb.IncidentAmendment_Insurer) {
	for _, one := range incident.Amendments {
		if one.Insurer != pb.IncidentAmendment_INSURER_UNSPECIFIED {
			last = one.Insurer
		}
	}
	return last
}

// incidentSummary is an incident for short, with the days that the policy of the ride's day gives.
func (d *desk) incidentSummary(tx *ledger.Tx, ride *pb.Ride, incident *pb.Incident) (*pb.IncidentSummary, error) {
	_, zone, err := d.zone(tx)
	if err != nil {
		return nil, err
	}
	within, kept, err := d.incidentSpans(tx, ride, zone)
	if err != nil {
		return nil, err
	}
	by := daysAfter(incident.HappenedAt, within, zone)
	return &pb.IncidentSummary{
		Name: incident.Name, RideTitle: ride.Title, Kind: incident.Kind, HappenedAt: incident.HappenedAt, RecordedAt: incident.RecordedAt,
		Insurer: insurer(incident), ReportBy: by.Format(civil.DateLayout),
		DaysLeft:  int32(math.Round(by.Sub(civilDay(tx.Now, zone)).Hours() / 24)),
		KeptUntil: daysAfter(incident.HappenedAt, kept, zone).Format(civil.DateLayout),
	}, nil
}

// incidentSpans are how long after its day an incident of a ride is to be reported, and is kept.
func (d *desk) incidentSpans(tx *ledger.Tx, ride *pb.Ride, zone *time.Location) (within, kept time.Duration, err error) {
	used, _, err := d.policyOn(tx, ride.StartAt.AsTime(), zone)
	if fault.Is(err, pb.Reason_NO_POLICY) {
		return policy.DefaultReportWithin, policy.DefaultIncidentsKept, nil
	}
	if err != nil {
		return 0, 0, err
	}
	return used.ReportWithin(), used.IncidentsKept(), nil
}

// civilDay is the day of an instant in a zone, as midnight UTC: days are then 24 hours long.
func civilDay(at time.Time, zone *time.Location) time.Time {
	local := at.In(zone)
	return time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)
}

// daysAfter is the day that lies a span of whole days after that of an instant.
func daysAfter(at *timestamppb.Timestamp, span time.Duration, zone *time.Location) time.Time {
	return civilDay(at.AsTime(), zone).AddDate(0, 0, int(span.Hours()/24))
}

// incidentExpired tells whether the time for which an incident is kept is over: its last day has passed in the club's zone.
func incidentExpired(incident *pb.Incident, kept time.Duration, now time.Time, zone *time.Location) bool {
	return civilDay(now, zone).After(daysAfter(incident.HappenedAt, kept, zone))
}

// expiredIncidents are the incidents whose records are not kept any longer by the policies of their rides' days, and the rides
// of which records are kept still.
func (d *desk) expiredIncidents(tx *ledger.Tx) (over []*pb.Incident, needed map[string]bool, err error) {
	_, zone, err := d.zone(tx)
	if err != nil {
		return nil, nil, err
	}
	rides := map[string]*pb.Ride{}
	needed = map[string]bool{}
	err = tx.Incidents("", "", 0, func(incident *pb.Incident) error {
		id := names.Part(incident.Name, "rides")
		ride, err := rideOnce(tx, rides, id)
		if err != nil {
			return err
		}
		_, kept, err := d.incidentSpans(tx, ride, zone)
		if err == nil && incidentExpired(incident, kept, tx.Now, zone) {
			over = append(over, incident)
		} else {
			needed[id] = true
		}
		return err
	})
	return over, needed, err
}

// partOf is what an incident record holds of a member, without others: what happened, where and when, and what the member
// wrote; nil when it holds nothing.
func partOf(incident *pb.Incident, self string) *pb.Incident {
	own := func(people []*pb.IncidentPerson) (found []*pb.IncidentPerson) {
		for _, one := range people {
			if one.Member == self {
				found = append(found, &pb.IncidentPerson{Member: self})
			}
		}
		return found
	}
	part := &pb.Incident{Name: incident.Name, Kind: incident.Kind, HappenedLocal: incident.HappenedLocal, HappenedAt: incident.HappenedAt,
		Where: incident.Where, Concerned: own(incident.Concerned), Saw: own(incident.Saw), RecordedAt: incident.RecordedAt}
	if incident.RecordedBy == self {
		part.RecordedBy, part.Account, part.Photographs = self, incident.Account, incident.Photographs
	}
	for _, one := range incident.Amendments {
		if one.By == self {
			part.Amendments = append(part.Amendments, one)
		}
	}
	if part.Concerned == nil && part.Saw == nil && part.RecordedBy == "" && part.Amendments == nil {
		return nil
	}
	return part
}

// eraseFromIncidents takes the name of an erased member out of what others wrote in the incident records of a ride; the
// record itself stays as long as it is kept, with an id that points to nobody.
func eraseFromIncidents(tx *ledger.Tx, ride string, who roster.Erased) error {
	if !wholeName(who) {
		return nil
	}
	return tx.RewriteIncidents(ride,
		func(incident *pb.Incident) (bool, error) {
			return roster.ReplaceName(incident, who.Name, who.Stands), nil
		},
		func(added *pb.IncidentAmendment) (bool, error) {
			return roster.ReplaceName(added, who.Name, who.Stands), nil
		})
}
