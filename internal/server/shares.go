package server

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// sharedFor is for how long after a ride's start the link to its roster is good.
const sharedFor = 7 * 24 * time.Hour

// ShareRoster implements RideService. The key is handed over once; only its hash is kept.
func (s *rideService) ShareRoster(ctx context.Context, request *pb.ShareRosterRequest) (*pb.RosterShare, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	key := who.club + "." + rand.Text() + rand.Text()[:6] // 160 bits
	sum := sha256.Sum256([]byte(key))
	made := &pb.RosterShare{Name: names.Share(who.club, ids[1]), CreatedBy: who.member.Name}
	var told *pb.RosterShare
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		if ride.RosterNumber == 0 {
			return fault.New(pb.Reason_WRONG_STATE, "no roster is published yet: there is nothing to share")
		}
		if shareOver(tx, ride) {
			return fault.New(pb.Reason_RIDE_OVER, "the ride began more than seven days ago; its roster is shared no more")
		}
		made.CreatedAt = tx.Stamp()
		if err := tx.SaveShare(&pb.ShareRecord{Share: made, KeySha256: sum[:]}); err != nil {
			return err
		}
		if told, err = shareOf(tx, ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "RideService/ShareRoster", made.Name, "made a link to the roster"))
	})
	if err != nil {
		return nil, err
	}
	told.Key = key
	if s.pages != "" {
		told.PageUrl = s.pages + "/shared/" + key
	}
	return told, nil
}

// UnshareRoster implements RideService.
func (s *rideService) UnshareRoster(ctx context.Context, request *pb.UnshareRosterRequest) (*pb.RosterShare, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		if _, err := tx.Ride(ids[1]); err != nil {
			return err
		}
		found, err := tx.ShareOf(ids[1])
		if err != nil {
			return err
		}
		if found == nil {
			return fault.New(pb.Reason_WRONG_STATE, "no link opens the roster")
		}
		if err := tx.DropShare(ids[1]); err != nil {
			return err
		}
		return tx.Append(audit(who, "RideService/UnshareRoster", found.Name, "took the link to the roster away"))
	})
	if err != nil {
		return nil, err
	}
	return &pb.RosterShare{Name: names.Share(who.club, ids[1])}, nil
}

// GetRosterShare implements RideService.
func (s *rideService) GetRosterShare(ctx context.Context, request *pb.GetRosterShareRequest) (share *pb.RosterShare, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err == nil {
			share, err = shareOf(tx, ride)
		}
		return err
	})
	return share, err
}

// ReadSharedRoster implements RideService. It is open to anyone: what it answers is made of what anyone may see.
func (s *rideService) ReadSharedRoster(ctx context.Context, request *pb.ReadSharedRosterRequest) (*pb.SharedRoster, error) {
	gone := fault.New(pb.Reason_NOT_FOUND, "this link opens nothing, or no longer; ask whoever gave it to you for a new one")
	club, _, dotted := strings.Cut(request.Key, ".")
	if !dotted || !names.ValidClub(club) {
		return nil, gone
	}
	shared := &pb.SharedRoster{}
	err := s.ledger.View(ctx, club, func(tx *ledger.Tx) error {
		share, err := tx.ShareByKey(request.Key)
		if err != nil {
			return err
		}
		if share == nil {
			return gone
		}
		id := names.Part(share.Name, "rides")
		ride, err := tx.Ride(id)
		if err != nil {
			return err
		}
		if shareOver(tx, ride) {
			return gone
		}
		issue, err := tx.Roster(id, ride.RosterNumber)
		if err != nil {
			return err
		}
		if err := s.since(tx, id, issue); err != nil {
			return err
		}
		shared.Roster, shared.ChangedSince, shared.ExpiresAt = sharedRoster(tx, issue), len(issue.Since) > 0, shareEnds(ride)
		if issue.GetRide().GetRoute().GetDigest() != ride.GetRoute().GetDigest() {
			return nil
		}
		line, err := s.measured(tx, ride)
		if err == nil {
			shared.Route = roster.ClearOfPeople(line)
		}
		return err
	})
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil, gone // nor does it tell whether there is such a club
	}
	return shared, err
}

// sharedRoster is an issue as people outside the club see it.
func sharedRoster(tx *ledger.Tx, issue *pb.Roster) *pb.Roster {
	return roster.SharedWith(issue, func(name string) bool { return namedOutside(tx, name) })
}

// namedOutside tells whether a member agreed to be named to anyone, and may be.
func namedOutside(tx *ledger.Tx, name string) bool {
	member, err := tx.PeekMember(names.Last(name))
	return err == nil && member.NamePublic && !member.Junior && !isGuest(member) && member.SuspendedAt == nil && member.ErasedAt == nil
}

// shareOf is the link to a ride's roster as those who may know of it see it; one that is over is none.
func shareOf(tx *ledger.Tx, ride *pb.Ride) (*pb.RosterShare, error) {
	id := names.Last(ride.Name)
	share, err := tx.ShareOf(id)
	if err != nil {
		return nil, err
	}
	if share == nil || shareOver(tx, ride) {
		share = &pb.RosterShare{Name: names.Share(tx.Club, id)}
	}
	share.ExpiresAt = shareEnds(ride)
	if ride.RosterNumber == 0 {
		return share, nil
	}
	issue, err := tx.PeekRoster(id, ride.RosterNumber)
	if err == nil {
		share.Named, share.Riders = roster.RidersOf(issue, func(name string) bool { return namedOutside(tx, name) })
	}
	return share, err
}

func shareEnds(ride *pb.Ride) *timestamppb.Timestamp {
	return timestamppb.New(ride.StartAt.AsTime().Add(sharedFor))
}

func shareOver(tx *ledger.Tx, ride *pb.Ride) bool { return tx.Now.After(shareEnds(ride).AsTime()) }
