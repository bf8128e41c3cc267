package server

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness"
	"gritward/internal/rollcall"
	"gritward/internal/roster"
	"gritward/internal/season"
	pb "gritward/proto/gritward/v1"
)

// How much one report reckons. Ours: ten years of two rides a week are 1,040.
const (
	maxSeasonRides = 1000
	maxSeasonYears = 10
)

type seasonService struct {
	pb.UnsafeSeasonServiceServer
	*desk
}

// GetSeasonReport implements SeasonService.
func (s *seasonService) GetSeasonReport(ctx context.Context, request *pb.GetSeasonReportRequest) (report *pb.SeasonReport, err error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	if err := seasonSpan(request.From, request.To); err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		club, err := tx.ClubRecord()
		if err != nil {
			return err
		}
		reckoning := season.Begin(season.Span{Club: club, From: request.From, To: request.To, Now: tx.Now, Names: who.has(pb.Role_SECRETARY)})
		zone, err := civil.Zone("zone", club.Zone)
		if err != nil {
			return err
		}
		a := &after{tx: tx, zone: zone, reckoning: reckoning, from: request.From, to: request.To, people: map[string]*pb.Member{}}
		if err := a.rides(ctx); err != nil {
			return err
		}
		if err := a.bikes(); err != nil {
			return err
		}
		report = reckoning.End()
		return nil
	})
	return report, err
}

// seasonSpan refuses days that are none, in the wrong order, or too far apart.
func seasonSpan(from, to string) error {
	first, err := civil.Date("from", from)
	if err != nil {
		return err
	}
	last, err := civil.Date("to", to)
	if err != nil {
		return err
	}
	if last.Before(first) {
		return fault.Invalid("to", "is before the first day, %s", from)
	}
	if !last.Before(first.AddDate(maxSeasonYears, 0, 0)) {
		return fault.Invalid("to", "makes more than %d years; ask for fewer", maxSeasonYears)
	}
	return nil
}

// after gathers the records of a span, one ride at a time.
type after struct {
	tx        *ledger.Tx
	zone      *time.Location
	reckoning *season.Reckoning
	from, to  string
	people    map[string]*pb.Member
}

// rides adds the rides of the span. A day of the club's begins and ends within a day of that of UTC.
func (a *after) rides(ctx context.Context) error {
	from, _ := time.Parse(civil.DateLayout, a.from) // both are days: the request was checked
	to, _ := time.Parse(civil.DateLayout, a.to)
	count := 0
	return a.tx.RidesStarting(from.AddDate(0, 0, -1), to.AddDate(0, 0, 2), func(ride *pb.Ride) error {
		if day, _, _ := strings.Cut(ride.StartLocal, "T"); day < a.from || day > a.to {
			return nil
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if count++; count > maxSeasonRides {
			return fault.Invalid("to", "makes more than %d rides; ask for fewer days", maxSeasonRides)
		}
		return a.ride(ride)
	})
}

func (a *after) ride(ride *pb.Ride) error {
	id := names.Last(ride.Name)
	over := ride.State == pb.Ride_CLOSED || ride.ClosedAt != nil || !a.tx.Now.Before(guestUntil(ride, a.zone)) // as for guests
	outing := season.Outing{Ride: ride, Over: over, Issues: func(visit func(*pb.Roster) error) error { return eachIssue(a.tx, ride, visit) }}
	var err error
	if outing.Signups, err = signupsOf(a.tx, id); err != nil {
		return err
	}
	for _, signup := range outing.Signups {
		if signup.DisplayName, err = a.name(signup.Member); err != nil {
			return err
		}
	}
	marks, err := marksOf(a.tx, id)
	if err != nil {
		return err
	}
	outing.Marked, outing.Riders = len(marks) > 0, rollcall.Call(&pb.RollBasis{}, marks, a.tx.Now).Riders
	for _, roll := range outing.Riders {
		if roll.DisplayName, err = a.name(roll.Member); err != nil {
			return err
		}
	}
	day, _, _ := strings.Cut(ride.StartLocal, "T")
	for _, group := range ride.Groups {
		time, err := a.tx.RecordedTime(group.Id, day, id)
		if err != nil {
			return err
		}
		switch {
		case time == nil:
		case roster.LeftOut(time) != "":
			outing.Disbelieved = append(outing.Disbelieved, group.Id)
		default:
			outing.Times = append(outing.Times, time)
		}
	}
	if err := a.tx.Notices(id, func(*pb.Notice) error { outing.Notices++; return nil }); err != nil {
		return err
	}
	if err := a.tx.Incidents(id, "", 0, func(*pb.Incident) error { outing.Incidents++; return nil }); err != nil {
		return err
	}
	return a.reckoning.Add(outing)
}

// name is a member's name; "" for one whose record is gone.
func (a *after) name(member string) (string, error) {
	found, known := a.people[member]
	if !known {
		var err error
		if found, err = a.tx.PeekMember(names.Last(member)); ignoring(err, pb.Reason_NOT_FOUND) != nil {
			return "", err
		}
		if err != nil || found.ErasedAt != nil {
			found = &pb.Member{}
		}
		a.people[member] = found
	}
	return found.DisplayName, nil
}

// bikes adds what was ridden home in the span, and the chains of those bikes.
func (a *after) bikes() error {
	err := a.tx.AllRidden(func(member, bike string, ridden *pb.RiddenRide) error {
		if ridden.Ride == "" { // a sum of rides that are kept no longer
			return nil
		}
		if ridden.Day < a.from || ridden.Day > a.to {
			return nil
		}
		owner, err := a.name(names.Member(a.tx.Club, member))
		if err != nil {
			return err
		}
		record, err := a.tx.PeekBike(member, bike)
		if ignoring(err, pb.Reason_NOT_FOUND) != nil {
			return err
		}
		title := ""
		if err == nil {
			title = record.GetDeclaration().GetFacts().GetTitle()
		}
		a.reckoning.Rode(season.Ridden{Bike: names.Bike(a.tx.Club, member, bike), Title: title, Owner: owner, Ride: ridden})
		return nil
	})
	if err != nil {
		return err
	}
	for _, bike := range a.reckoning.Bikes() {
		log, err := careLog(a.tx, names.Part(bike, "members"), names.Part(bike, "bikes"))
		if err != nil {
			return err
		}
		a.reckoning.Care(bike, log)
	}
	return nil
}

// careLog is the care log of a bike by the day of the work, without what was struck out.
func careLog(tx *ledger.Tx, member, bike string) (log []*pb.CareEntry, err error) {
	if err := tx.Care(member, bike, 0, 0, func(entry *pb.CareEntry) error { log = append(log, entry); return nil }); err != nil {
		return nil, err
	}
	struck := readiness.StruckOut(log, tx.Now.Add(24*time.Hour))
	log = slices.DeleteFunc(log, func(entry *pb.CareEntry) bool { return struck[entry.Name] })
	slices.SortStableFunc(log, func(a, b *pb.CareEntry) int { return cmp.Compare(a.DoneOn, b.DoneOn) })
	return log, nil
}
