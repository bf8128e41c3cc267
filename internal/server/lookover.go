package server

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/readiness"
	"gritward/internal/rollcall"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// maxLookOvers is how often a bike may be looked over for one ride.
const maxLookOvers = 50

// RecordLookOver implements StartService.
func (s *startService) RecordLookOver(ctx context.Context, request *pb.RecordLookOverRequest) (*pb.RecordLookOverResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	member, err := names.In(who.club, "member", request.Member, names.MemberShape)
	if err != nil {
		return nil, err
	}
	if err := soundFound(request); err != nil {
		return nil, err
	}
	var response *pb.RecordLookOverResponse
	same := proto.CloneOf(request)
	same.DeviceNow = nil // is another each time it is sent
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "RecordLookOver", Message: same}
	err = s.rides.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		l := &lookingOver{startService: s, tx: tx, who: who, request: request, recorded: made}
		if response, err = l.record(ids[1], member[1]); err != nil || made != "" {
			return err
		}
		return tx.Answer(asked, response.LookOver.Name)
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// soundFound holds what was found against what each needs.
func soundFound(request *pb.RecordLookOverRequest) error {
	for i, fact := range request.Found {
		path := fmt.Sprintf("found[%d].", i)
		switch {
		case (fact.RuntimeMin != nil) != (fact.What == pb.Found_LIGHT_LENT):
			return fault.Invalid(path+"runtime_min", "says how long a lamp that is lent lasts; such a lamp has it, and nothing else")
		case fact.PadMm != nil && fact.What != pb.Found_PADS_WORN:
			return fault.Invalid(path+"pad_mm", "is for worn pads only")
		case fact.Label != "" && fact.What != pb.Found_LIGHT_DEAD:
			return fault.Invalid(path+"label", "is for a dead lamp only")
		}
	}
	return nil
}

// lookingOver is a call that records a look-over; recorded is the name of the one that it recorded already.
type lookingOver struct {
	*startService
	tx       *ledger.Tx
	who      *caller
	request  *pb.RecordLookOverRequest
	recorded string
	// at is when it was done, by the server's clock, and ahead how far the device's was ahead.
	at    time.Time
	ahead time.Duration
}

func (l *lookingOver) record(ride, member string) (*pb.RecordLookOverResponse, error) {
	g, err := l.rides.ground(l.tx, ride)
	if err != nil {
		return nil, err
	}
	signup, err := l.tx.Signup(ride, member)
	if err != nil {
		return nil, err
	}
	if signup.State == pb.Signup_WITHDRAWN {
		return nil, fault.New(pb.Reason_WRONG_STATE, "%s has withdrawn; sign the rider up again", signup.Name)
	}
	entrant, err := entrantOf(l.tx, signup)
	if err != nil {
		return nil, err
	}
	response := &pb.RecordLookOverResponse{DisplayName: entrant.Member.DisplayName}
	book, subject := g.book, entrant.Subject()
	if l.recorded != "" { // what it changed is told again
		subject.Looks = slices.DeleteFunc(slices.Clone(subject.Looks), func(look *pb.LookOver) bool {
			if look.Name == l.recorded {
				response.LookOver = look
			}
			return look.Name == l.recorded
		})
		if response.LookOver == nil {
			return nil, fault.New(pb.Reason_WRONG_STATE, "the look-over was recorded for another bike; look at the one that is ridden")
		}
	} else {
		if err := l.when(g.ride); err != nil {
			return nil, err
		}
		if err := l.notSetOff(g.ride, entrant.Member); err != nil {
			return nil, err
		}
		if response.LookOver, err = l.add(g, entrant); err != nil {
			return nil, err
		}
	}
	response.Before = roster.Standings(book, subject, g.plan, g.now)
	subject.Looks = byTime(append(subject.Looks[:len(subject.Looks):len(subject.Looks)], response.LookOver))
	response.After = roster.Standings(book, subject, g.plan, g.now)
	for _, one := range response.Before {
		one.Findings = nil
	}
	return response, l.placeAnew(g.ride, signup.Member, response)
}

// when finds when the bike was looked over.
func (l *lookingOver) when(ride *pb.Ride) (err error) {
	if l.at = l.tx.Now; l.request.At == nil {
		return nil
	}
	if l.ahead, err = clockAhead(l.tx, l.request.DeviceNow); err == nil {
		l.at, err = corrected(l.tx, "at", l.request.At, l.ahead, ride.CreatedAt.AsTime())
	}
	return err
}

// add writes the look-over, its mark in the roll call and its audit entry.
func (l *lookingOver) add(g *ground, entrant roster.Entrant) (*pb.LookOver, error) {
	if len(entrant.Looks) >= maxLookOvers {
		return nil, fault.New(pb.Reason_WRONG_STATE, "the bike was looked over %d times already", maxLookOvers)
	}
	look := &pb.LookOver{Ride: g.ride.Name, By: l.who.member.Name, Found: l.request.Found, Fixed: l.request.Fixed,
		AllFixed: l.request.AllFixed, Note: l.request.Note, At: timestamppb.New(l.at)}
	owner, bike := names.Part(entrant.Bike.Name, "members"), names.Part(entrant.Bike.Name, "bikes")
	if err := l.tx.AddLookOver(owner, bike, look); err != nil {
		return nil, err
	}
	mark := &pb.Mark{Name: g.ride.Name + "/marks/look-" + strings.ToLower(rand.Text()), Member: entrant.Member.Name, What: pb.Mark_LOOKED_OVER,
		At: timestamppb.New(l.at.Add(l.ahead)), CorrectedAt: timestamppb.New(l.at), Device: l.who.device.Name, Note: markNote(look)}
	if l.ahead != 0 {
		mark.ClockAhead = durationpb.New(l.ahead)
	}
	if _, _, err := l.tx.AddMark(mark); err != nil {
		return nil, err
	}
	look = proto.CloneOf(look)
	look.ByName = l.who.member.DisplayName
	return look, l.tx.Append(audit(l.who, "StartService/RecordLookOver", names.Signup(l.tx.Club, names.Last(g.ride.Name), owner),
		fmt.Sprintf("looked the bike over: %d found, %d fixed", len(look.Found), len(look.Fixed))))
}

// markNote says in a mark of the roll call, in at most 300 characters, what was found.
func markNote(look *pb.LookOver) string {
	var said []string
	for _, fact := range look.Found {
		said = append(said, phrase.Found(fact))
	}
	for _, fact := range look.Fixed {
		said = append(said, "fixed: "+phrase.Found(fact))
	}
	if look.AllFixed {
		said = append(said, "all fixed")
	}
	if len(said) == 0 {
		said = []string{"as declared"}
	}
	if look.Note != "" {
		said = append(said, look.Note)
	}
	text := []rune(strings.Join(said, ", "))
	if len(text) > 300 {
		text = append(text[:299], '…')
	}
	return string(text)
}

// notSetOff refuses a look-over of a rider who was on the road by then, and for a ride that is closed, called off or was long
// under way.
func (l *lookingOver) notSetOff(ride *pb.Ride, rider *pb.Member) error {
	marks, err := marksOf(l.tx, names.Last(ride.Name))
	if err != nil {
		return err
	}
	marks = slices.DeleteFunc(marks, func(mark *pb.Mark) bool { return rollcall.At(mark).After(l.at) && mark.What != pb.Mark_STRIKE })
	basis, err := l.rides.rollBasis(l.tx, ride, marks)
	if err != nil {
		return err
	}
	for _, roll := range rollcall.Call(basis, marks, l.at).Riders {
		if roll.Member == rider.Name && (roll.State == pb.RiderRoll_OUT || roll.State == pb.RiderRoll_TURNED_BACK || roll.State == pb.RiderRoll_HOME) {
			return fault.New(pb.Reason_RIDE_OVER, "%s has set off; what is found on the road goes into the note of a mark", rider.DisplayName)
		}
	}
	if ride.State == pb.Ride_CALLED_OFF || ride.State == pb.Ride_CLOSED || !l.at.Before(ride.StartAt.AsTime().Add(unmarked)) {
		return l.rides.notUnderWay(l.tx, ride)
	}
	return nil
}

// placeAnew says whether the riders should be placed anew after a look-over.
func (l *lookingOver) placeAnew(ride *pb.Ride, member string, response *pb.RecordLookOverResponse) error {
	changed := false
	for i, after := range response.After {
		changed = changed || after.Standing != response.Before[i].Standing
	}
	response.PlaceAnew = changed
	if ride.RosterNumber == 0 {
		return nil
	}
	issue, err := l.tx.Roster(names.Last(ride.Name), ride.RosterNumber)
	for _, group := range issue.GetPlacement().GetGroups() {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider.GetMember() != member {
					continue
				}
				response.Group = group.Group
				for _, after := range response.After {
					if after.Group == group.Group {
						response.PlaceAnew = after.Standing != rider.Standing
					}
				}
			}
		}
	}
	return err
}

// looksFor reads the look-overs of a bike for a ride, oldest first, with the names of who looked.
func looksFor(tx *ledger.Tx, bike, ride string) (looks []*pb.LookOver, err error) {
	err = eachLook(tx, bike, func(look *pb.LookOver) {
		if look.Ride == ride {
			looks = append(looks, look)
		}
	})
	return looks, err
}

// eachLook visits the look-overs of a bike by the time at which it was looked over, whenever each was sent.
func eachLook(tx *ledger.Tx, bike string, visit func(*pb.LookOver)) error {
	var looks []*pb.LookOver
	err := tx.LookOvers(names.Part(bike, "members"), names.Part(bike, "bikes"), func(look *pb.LookOver) error {
		by, err := expected(tx, look.By)
		look.ByName = by.GetDisplayName()
		looks = append(looks, look)
		return err
	})
	for _, look := range byTime(looks) {
		visit(look)
	}
	return err
}

// byTime puts look-overs in the order in which they were made.
func byTime(looks []*pb.LookOver) []*pb.LookOver {
	slices.SortStableFunc(looks, func(a, b *pb.LookOver) int { return a.At.AsTime().Compare(b.At.AsTime()) })
	return looks
}

// doubtsOf gives what look-overs found of a bike since it was certified and is not fixed, a look-over for each ride.
func doubtsOf(tx *ledger.Tx, bike *pb.Bike) ([]*pb.LookOver, error) {
	certified := time.Time{}
	if stamp := bike.Declaration.GetCertifiedAt(); stamp.IsValid() {
		certified = stamp.AsTime()
	}
	byRide, order := map[string][]*pb.LookOver{}, []string(nil)
	err := eachLook(tx, bike.Name, func(look *pb.LookOver) {
		if !look.At.AsTime().After(certified) {
			return
		}
		if byRide[look.Ride] == nil {
			order = append(order, look.Ride)
		}
		byRide[look.Ride] = append(byRide[look.Ride], look)
	})
	var doubts []*pb.LookOver
	for _, ride := range order {
		var whole *pb.LookOver
		for _, one := range readiness.Outstanding(byRide[ride]) {
			if one.Found[0].What == pb.Found_LIGHT_LENT { // says nothing against the bike
				continue
			}
			if whole != nil {
				one.Found = append(whole.Found, one.Found...)
			}
			whole = one
		}
		if whole != nil {
			doubts = append(doubts, whole)
		}
	}
	return doubts, err
}
