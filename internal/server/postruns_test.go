package server_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// TestPostRuns: letters go out by themselves as they are queued, also of a club that was founded meanwhile, until the server
// stops.
func TestPostRuns(t *testing.T) {
	o := newOffice(t)
	ended := make(chan struct{})
	ctx, stop := context.WithCancel(o.ctx)
	go func() { o.post.Run(ctx, time.Millisecond); close(ended) }()
	ride := o.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		o.joins(id, ride, nil)
	}
	o.publish("lea", ride)
	o.until("three letters came", func() bool { return len(o.mail.Taken()) == 3 })
	if err := o.ledger.Update(o.ctx, "later", func(tx *ledger.Tx) error {
		ride := &pb.Ride{Name: "clubs/later/rides/becks", Title: "Becks", StartAt: timestamppb.New(tx.Now.AddDate(0, 0, 1)), State: pb.Ride_CALLED_OFF}
		member := &pb.Member{Name: "clubs/later/members/eda", DisplayName: "Eda", Email: "eda@later.example"}
		return errors.Join(tx.Found(&pb.Club{Title: "Later", Zone: "UTC"}), tx.SaveMember(member), tx.SaveRide(ride),
			tx.AddLetter("becks", &pb.Letter{Kind: pb.Letter_CALLED_OFF, Member: member.Name, GiveUpAt: ride.StartAt}))
	}); err != nil {
		t.Fatal(told(err))
	}
	o.until("a letter of the new club came", func() bool { return len(o.mail.Taken()) == 4 && o.mail.Taken()[3].To == "eda@later.example" })
	stop()
	<-ended
}
