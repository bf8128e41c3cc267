package server

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

type bikeService struct {
	pb.UnsafeBikeServiceServer
	*desk
}

// afterDarkMin is for how long lights are needed on the evening that DeclareBike assesses a bike for.
const afterDarkMin = 120

// assessWithin is how far from now a bike is assessed without a ride.
const assessWithin = 2 * 366 * 24 * time.Hour

// DeclareBike implements BikeService.
func (s *bikeService) DeclareBike(ctx context.Context, request *pb.DeclareBikeRequest) (*pb.DeclareBikeResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.MemberShape)
	if err != nil {
		return nil, err
	}
	response := &pb.DeclareBikeResponse{}
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "DeclareBike", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			response.Bike, err = tx.Bike(ids[1], names.Last(made))
		} else {
			if response.Bike, err = certify(tx, who, ids[1], request); err != nil {
				return err
			}
			err = tx.Append(audit(who, "BikeService/DeclareBike", response.Bike.Declaration.Name, "certified a bike"))
			if err == nil {
				err = tx.Answer(asked, response.Bike.Name)
			}
		}
		if err != nil {
			return err
		}
		return s.standToday(tx, response)
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// certify writes the next revision of a bike's declaration, in the caller's name.
func certify(tx *ledger.Tx, who *caller, member string, request *pb.DeclareBikeRequest) (*pb.Bike, error) {
	id, err := bikeID(tx, member, request)
	if err != nil {
		return nil, err
	}
	if err := datesPast(tx, request.Facts); err != nil {
		return nil, err
	}
	bike, err := tx.Bike(member, id)
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		bike, err = &pb.Bike{Name: names.Bike(tx.Club, member, id), CreatedAt: tx.Stamp()}, nil
	}
	if err != nil {
		return nil, err
	}
	if err := ledger.Unchanged(request.Etag, bike, bike.Name); err != nil {
		return nil, err
	}
	if bike.RetiredAt != nil {
		return nil, fault.New(pb.Reason_WRONG_STATE, "%s is retired; declare it as a new bike", bike.Name)
	}
	revision := bike.GetDeclaration().GetRevision() + 1
	bike.Declaration = &pb.Declaration{
		Name: names.Declaration(tx.Club, member, id, revision), Revision: revision,
		CertifiedAt: tx.Stamp(), CertifiedBy: who.member.Name, Facts: request.Facts,
	}
	if err := tx.AddDeclaration(bike.Declaration); err != nil {
		return nil, err
	}
	if err := tx.SaveBike(bike); err != nil {
		return nil, err
	}
	return bike, nil
}

// bikeID is the id of the bike asked for, which must be there; without one that of the bike in use of that title, or the
// next number. It says nothing of the bike: it stays in the audit log when the bike is erased with its member.
func bikeID(tx *ledger.Tx, member string, request *pb.DeclareBikeRequest) (string, error) {
	if request.BikeId != "" {
		if request.NewBike {
			return "", fault.Invalid("new_bike", "is not for a bike that was declared before")
		}
		_, err := tx.Bike(member, request.BikeId)
		return request.BikeId, err
	}
	same, count := "", 0
	err := tx.Bikes(member, "", 0, func(bike *pb.Bike) error {
		count++
		if bike.RetiredAt == nil && bike.Declaration.Facts.Title == request.Facts.Title {
			same = names.Last(bike.Name)
		}
		return nil
	})
	if err == nil && request.NewBike && same != "" {
		return "", fault.Invalid("facts.title", "you have a bike of that name in use; call this one otherwise, or declare that one again")
	}
	return cmp.Or(same, fmt.Sprintf("bike-%d", count+1)), err
}

// standToday says where the bike stands now, by day and after dark; nothing when no policy is in force.
func (s *bikeService) standToday(tx *ledger.Tx, response *pb.DeclareBikeResponse) error {
	assess := func(litMin float64) (*pb.Assessment, error) {
		return s.onDay(tx, response.Bike, tx.Now, litMin, false)
	}
	var err error
	if response.ByDay, err = assess(0); fault.Is(err, pb.Reason_NO_POLICY) {
		return nil
	}
	if err != nil {
		return err
	}
	response.AfterDark, err = assess(afterDarkMin)
	return err
}

// onDay assesses a bike on a day without a ride.
func (d *desk) onDay(tx *ledger.Tx, bike *pb.Bike, at time.Time, litMin float64, wet bool) (*pb.Assessment, error) {
	subject, err := subjectOf(tx, bike)
	if err != nil {
		return nil, err
	}
	return d.onDayOf(tx, subject, at, litMin, wet)
}

// onDayOf is onDay for what is known of a bike.
func (d *desk) onDayOf(tx *ledger.Tx, subject readiness.Subject, at time.Time, litMin float64, wet bool) (*pb.Assessment, error) {
	_, zone, err := d.zone(tx)
	if err != nil {
		return nil, err
	}
	used, _, err := d.policyOn(tx, at, zone)
	if err != nil {
		return nil, err
	}
	day, err := roster.Day(used, zone, at, litMin, wet)
	if err != nil {
		return nil, err
	}
	return readiness.Assess(used.Book(), subject, day, tx.Now.In(zone)), nil
}

// GetBike implements BikeService.
func (s *bikeService) GetBike(ctx context.Context, request *pb.GetBikeRequest) (bike *pb.Bike, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.BikeShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if bike, err = tx.Bike(ids[1], ids[2]); err != nil {
			return err
		}
		_, zone, err := s.zone(tx)
		if err != nil {
			return err
		}
		subject, err := subjectOf(tx, bike)
		if err != nil {
			return err
		}
		bike.InEffect = readiness.Effective(subject, tx.Now.In(zone))
		bike.Doubts, err = doubtsOf(tx, bike)
		return err
	})
	return bike, err
}

// ListBikes implements BikeService.
func (s *bikeService) ListBikes(ctx context.Context, request *pb.ListBikesRequest) (*pb.ListBikesResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.MemberShape)
	if err != nil {
		return nil, err
	}
	response, size := &pb.ListBikesResponse{}, pageSize(request.PageSize)
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		return tx.Bikes(ids[1], request.PageToken, size+1, func(bike *pb.Bike) error {
			if len(response.Bikes) == size {
				response.NextPageToken = ledger.BikePosition(response.Bikes[size-1].Name)
				return nil
			}
			response.Bikes = append(response.Bikes, bike)
			return nil
		})
	})
	return response, err
}

// ListDeclarations implements BikeService.
func (s *bikeService) ListDeclarations(ctx context.Context, request *pb.ListDeclarationsRequest) (*pb.ListDeclarationsResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.BikeShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListDeclarationsResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) (err error) {
		if _, err := tx.Bike(ids[1], ids[2]); err != nil {
			return err
		}
		response.Declarations, response.NextPageToken, err = pageByNumber(request.PageToken, request.PageSize,
			func(after, limit int, visit func(*pb.Declaration) error) error {
				return tx.Declarations(ids[1], ids[2], after, limit, visit)
			})
		return err
	})
	return response, err
}

// RetireBike implements BikeService.
func (s *bikeService) RetireBike(ctx context.Context, request *pb.RetireBikeRequest) (bike *pb.Bike, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.BikeShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if bike, err = tx.Bike(ids[1], ids[2]); err != nil {
			return err
		}
		if bike.RetiredAt != nil {
			return fault.New(pb.Reason_WRONG_STATE, "%s is retired already", bike.Name)
		}
		bike.RetiredAt = tx.Stamp()
		if err := tx.SaveBike(bike); err != nil {
			return err
		}
		return tx.Append(audit(who, "BikeService/RetireBike", bike.Name, "retired a bike"))
	})
	return bike, err
}

// AssessBike implements BikeService.
func (s *bikeService) AssessBike(ctx context.Context, request *pb.AssessBikeRequest) (*pb.AssessBikeResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.BikeShape)
	if err != nil {
		return nil, err
	}
	response := &pb.AssessBikeResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		bike, err := tx.Bike(ids[1], ids[2])
		if err != nil {
			return err
		}
		if request.Ride == "" {
			at := tx.Now
			if request.At != nil {
				at = request.At.AsTime()
				if !request.At.IsValid() || at.Sub(tx.Now).Abs() > assessWithin {
					return fault.Invalid("at", "must lie within two years of now")
				}
			}
			assessment, err := s.onDay(tx, bike, at, request.LitMin, request.Wet)
			response.Assessments = []*pb.Assessment{assessment}
			return err
		}
		subject, err := subjectOf(tx, bike)
		if err != nil {
			return err
		}
		response.Assessments, err = s.onRide(tx, who, subject, request.Ride)
		return err
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}
