package ledger

import (
	"fmt"

	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// SaveSignup writes a sign-up under its name, with a new etag; what is computed when read is left out. It counts in the
// tally of its ride.
func (t *Tx) SaveSignup(signup *pb.Signup) error {
	ids, err := t.ids(signup.Name, names.SignupShape)
	if err != nil {
		return err
	}
	signup.Standings, signup.DisplayName, signup.GuestOf, signup.WaitingBefore = nil, "", "", 0
	if err := tag(signup, func(s *pb.Signup, etag string) { s.Etag = etag }); err != nil {
		return err
	}
	if err := t.tally(ids[1], ids[2], signup); err != nil {
		return err
	}
	if err := t.watch(ids[1]); err != nil {
		return err
	}
	return t.save(signupKey(ids[1], ids[2]), signup)
}

// DropSignup deletes a member's sign-up for a ride.
func (t *Tx) DropSignup(ride, member string) error {
	if err := t.tally(ride, member, nil); err != nil {
		return err
	}
	return t.tx.Delete(signupKey(ride, member))
}

func signupKey(ride, member string) string { return "signup/" + ride + "/" + member }

func tallyKey(ride string) string { return "tally/" + ride }

// Tally tells how many have signed up for a ride. It is shared: it must not be changed.
func (t *Tx) Tally(ride string) (*pb.SignupTally, error) {
	counted, err := peekOnce[pb.SignupTally](t, tallyKey(ride))
	if counted != nil || err != nil {
		return counted, err
	}
	counted = &pb.SignupTally{}
	return counted, t.Signups(ride, func(signup *pb.Signup) error { // a ride from before there were tallies
		count(counted, signup, 1)
		return nil
	})
}

// tally brings the tally of a ride up to date with a sign-up that is about to be written, or with nil taken away.
func (t *Tx) tally(ride, member string, after *pb.Signup) error {
	before, err := t.PeekSignup(ride, member)
	if err != nil {
		return err
	}
	was, err := t.Tally(ride)
	if err != nil {
		return err
	}
	counted := proto.CloneOf(was)
	count(counted, before, -1)
	count(counted, after, 1)
	if proto.Equal(was, counted) {
		return nil
	}
	return t.save(tallyKey(ride), counted)
}

// tallyFault tells what is wrong with the tally of a ride; "": nothing.
func (t *Tx) tallyFault(ride string) (string, error) {
	counted, err := t.Tally(ride)
	if err != nil {
		return "", err
	}
	want := &pb.SignupTally{LastTurn: counted.LastTurn} // that of a sign-up that was erased may have been later
	err = t.Signups(ride, func(signup *pb.Signup) error { count(want, signup, 1); return nil })
	if err != nil || proto.Equal(counted, want) {
		return "", err
	}
	return fmt.Sprintf("%q counts %v; there are %v", tallyKey(ride), counted, want), nil
}

// count adds a sign-up to a tally, or takes it out; nil is none.
func count(counted *pb.SignupTally, signup *pb.Signup, times int32) {
	switch {
	case signup == nil:
		return
	case signup.State == pb.Signup_IN:
		counted.In += times
		fallthrough
	case signup.State != pb.Signup_WITHDRAWN:
		counted.Entered += times
	}
	counted.LastTurn = max(counted.LastTurn, signup.Turn)
}
