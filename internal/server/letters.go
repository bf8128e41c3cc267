package server

import (
	"context"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// overdueKept is for how long a letter about riders who are overdue is tried.
const overdueKept = 24 * time.Hour

// atStartKept is for how long a letter is tried that is written at the start, or says shortly before it that the ride is called off.
const atStartKept = 2 * time.Hour

// tell queues a letter about a ride for each of the members who gave an e-mail address, when there is a mail server to take
// it. It is written with what it tells of, in one transaction. What a letter about a ride says is of no use once the ride
// has started: it is then given up; one written at the start, or that calls the ride off shortly before, two hours later.
func (d *desk) tell(tx *ledger.Tx, ride *pb.Ride, letter *pb.Letter, members ...string) error {
	if !d.mail {
		return nil
	}
	giveUp := ride.StartAt.AsTime()
	switch soon := tx.Now.Add(atStartKept); {
	case letter.Kind == pb.Letter_OVERDUE:
		giveUp = tx.Now.Add(overdueKept)
	case giveUp.Before(soon) && (letter.Kind == pb.Letter_CALLED_OFF || !tx.Now.Before(giveUp)):
		giveUp = soon // somebody is on the way to the start still
	}
	for _, name := range members {
		member, err := tx.Member(names.Last(name))
		if err != nil {
			return err
		}
		if member.Email == "" {
			continue
		}
		if err := tx.AddLetter(names.Last(ride.Name), &pb.Letter{
			Member: name, Kind: letter.Kind, Issue: letter.Issue, Notice: letter.Notice, GiveUpAt: timestamppb.New(giveUp)}); err != nil {
			return err
		}
	}
	return nil
}

// everybody are the members who have signed up for a ride and not withdrawn, in the order of signing up.
func everybody(tx *ledger.Tx, ride string) (members []string, err error) {
	signups, err := entered(tx, ride)
	for _, signup := range signups {
		members = append(members, signup.Member)
	}
	return members, err
}

// ListLetters implements RideService.
func (s *rideService) ListLetters(ctx context.Context, request *pb.ListLettersRequest) (*pb.ListLettersResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListLettersResponse{MailServer: s.mail}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if _, err := tx.Ride(ids[1]); err != nil {
			return err
		}
		return tx.Letters(ids[1], func(letter *pb.Letter) error {
			member, err := tx.Member(names.Last(letter.Member))
			if err != nil && !fault.Is(err, pb.Reason_NOT_FOUND) {
				return err
			}
			letter.DisplayName = member.GetDisplayName()
			response.Letters = append(response.Letters, letter)
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}
