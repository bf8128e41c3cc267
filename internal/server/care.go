package server

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// subjectOf gathers what the checks read of a bike: its declaration, its care log, and its last wet ride.
func subjectOf(tx *ledger.Tx, bike *pb.Bike) (readiness.Subject, error) {
	member, id := names.Part(bike.Name, "members"), names.Part(bike.Name, "bikes")
	subject := readiness.Subject{Bike: bike.Name, Declaration: bike.Declaration}
	err := tx.Care(member, id, 0, 0, func(entry *pb.CareEntry) error {
		subject.Care = append(subject.Care, entry)
		return nil
	})
	if err != nil {
		return subject, err
	}
	err = tx.Ridden(member, id, func(ridden *pb.RiddenRide) error {
		if ridden.Wet && ridden.Day > subject.LastWetRideOn {
			subject.LastWetRideOn = ridden.Day
		}
		return nil
	})
	return subject, err
}

// RecordCare implements BikeService.
func (s *bikeService) RecordCare(ctx context.Context, request *pb.RecordCareRequest) (*pb.CareEntry, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.BikeShape)
	if err != nil {
		return nil, err
	}
	var entry *pb.CareEntry
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "RecordCare", Message: request}
	err = s.ledger.Update(ctx, who.club, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			entry, err = careByName(tx, ids[1], ids[2], made)
			return err
		}
		if entry, err = s.recordCare(tx, who, ids[1], ids[2], request.Entry); err != nil {
			return err
		}
		return tx.Answer(asked, entry.Name)
	})
	if err != nil {
		return nil, err
	}
	return entry, nil
}

// recordCare holds an entry against what must be true of entries, and appends it.
func (s *bikeService) recordCare(tx *ledger.Tx, who *caller, member, bike string, asked *pb.CareEntry) (*pb.CareEntry, error) {
	if _, err := tx.Bike(member, bike); err != nil {
		return nil, err
	}
	_, zone, err := s.zone(tx)
	if err != nil {
		return nil, err
	}
	entry := proto.Clone(asked).(*pb.CareEntry)
	if entry.DoneOn == "" {
		entry.DoneOn = tx.Now.In(zone).Format(civil.DateLayout)
	}
	if err := soundCare(tx, member, bike, entry, tx.Now.In(zone)); err != nil {
		return nil, err
	}
	entry.RecordedBy = who.member.Name
	if err := tx.AddCare(member, bike, entry); err != nil {
		return nil, err
	}
	return entry, tx.Append(audit(who, "BikeService/RecordCare", entry.Name, "recorded care"))
}

// soundCare refuses an entry that lacks what its work needs, lies in the future, or strikes out what is not there.
func soundCare(tx *ledger.Tx, member, bike string, entry *pb.CareEntry, now time.Time) error {
	if _, err := civil.Date("entry.done_on", entry.DoneOn); err != nil {
		return err
	}
	if today := now.Format(civil.DateLayout); entry.DoneOn > today {
		return fault.Invalid("entry.done_on", "%s has not come yet; today is %s", entry.DoneOn, today)
	}
	if entry.WearPct != nil && entry.Work != pb.CareEntry_CHAIN_MEASURED {
		return fault.Invalid("entry.wear_pct", "goes with a chain measured, not with this work")
	}
	if entry.ThicknessMm != nil && entry.Work != pb.CareEntry_PADS_MEASURED && entry.Work != pb.CareEntry_ROTOR_MEASURED {
		return fault.Invalid("entry.thickness_mm", "goes with pads or a disc measured, not with this work")
	}
	switch entry.Work {
	case pb.CareEntry_CHAIN_MEASURED:
		if entry.WearPct == nil {
			return fault.Invalid("entry.wear_pct", "is needed: how much the chain has worn, in %%")
		}
	case pb.CareEntry_PADS_MEASURED, pb.CareEntry_ROTOR_MEASURED:
		if entry.ThicknessMm == nil {
			return fault.Invalid("entry.thickness_mm", "is needed: how thick it is, in mm")
		}
	case pb.CareEntry_BEARING_SERVICED:
		if entry.Bearing == pb.CareEntry_PLACE_UNSPECIFIED {
			return fault.Invalid("entry.bearing", "is needed: which bearing")
		}
	case pb.CareEntry_STRUCK_OUT:
		if entry.Strikes == "" {
			return fault.Invalid("entry.strikes", "is needed: which entry is struck out")
		}
		_, err := careByName(tx, member, bike, entry.Strikes)
		return err
	}
	if needsEnd[entry.Work] && entry.End == pb.End_END_UNSPECIFIED {
		return fault.Invalid("entry.end", "is needed: front or rear")
	}
	return nil
}

// needsEnd are the works that are done to one end of the bike.
var needsEnd = map[pb.CareEntry_Work]bool{
	pb.CareEntry_PADS_MEASURED: true, pb.CareEntry_PADS_RENEWED: true, pb.CareEntry_PADS_BEDDED_IN: true,
	pb.CareEntry_ROTOR_MEASURED: true, pb.CareEntry_BRAKING_SURFACE_RENEWED: true, pb.CareEntry_TYRE_RENEWED: true,
	pb.CareEntry_TYRE_LOOKED_OVER: true, pb.CareEntry_LIGHT_CHARGED: true, pb.CareEntry_GUARD_FITTED: true,
}

// careByName finds an entry of a care log.
func careByName(tx *ledger.Tx, member, bike, name string) (*pb.CareEntry, error) {
	var found *pb.CareEntry
	err := tx.Care(member, bike, 0, 0, func(entry *pb.CareEntry) error {
		if entry.Name == name {
			found = entry
		}
		return nil
	})
	if err == nil && found == nil {
		err = fault.NotFound(name)
	}
	return found, err
}

// ListCare implements BikeService.
func (s *bikeService) ListCare(ctx context.Context, request *pb.ListCareRequest) (*pb.ListCareResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.BikeShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListCareResponse{}
	err = s.ledger.View(ctx, who.club, func(tx *ledger.Tx) (err error) {
		if _, err := tx.Bike(ids[1], ids[2]); err != nil {
			return err
		}
		response.Entries, response.NextPageToken, err = pageByNumber(request.PageToken, request.PageSize,
			func(after, limit int, visit func(*pb.CareEntry) error) error {
				return tx.Care(ids[1], ids[2], after, limit, visit)
			})
		return err
	})
	return response, err
}
