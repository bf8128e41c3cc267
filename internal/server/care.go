package server

import (
	"context"

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
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			entry, err = careByName(tx, ids[1], ids[2], made)
			return err
		}
		if entry, err = s.recordCare(tx, who, ids[1], ids[2], request.Entry, request.MeasuredAgain); err != nil {
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
func (s *bikeService) recordCare(tx *ledger.Tx, who *caller, member, bike string, asked *pb.CareEntry, again bool) (*pb.CareEntry, error) {
	found, err := tx.Bike(member, bike)
	if err != nil {
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
	subject, err := subjectOf(tx, found)
	if err != nil {
		return nil, err
	}
	if err := soundCare(subject, entry, tx.Now.In(zone)); err != nil {
		return nil, err
	}
	if err := soundJump(subject, entry, again, tx.Now.In(zone)); err != nil {
		return nil, err
	}
	entry.RecordedBy = who.member.Name
	if err := tx.AddCare(member, bike, entry); err != nil {
		return nil, err
	}
	return entry, tx.Append(audit(who, "BikeService/RecordCare", entry.Name, "recorded care"))
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
	err = s.view(ctx, who, func(tx *ledger.Tx) (err error) {
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
