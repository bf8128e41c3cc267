package readiness

import (
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Outstanding gives what look-overs found and later ones did not say is fixed, oldest first: each as a look-over with one
// found fact, by whoever found it last. The look-overs are those of one bike for one ride, oldest first.
func Outstanding(looks []*pb.LookOver) []*pb.LookOver {
	var left []*pb.LookOver
	drop := func(fact *pb.Found) {
		left = slices.DeleteFunc(left, func(one *pb.LookOver) bool {
			return one.Found[0].GetWhat() == fact.GetWhat() && one.Found[0].GetEnd() == fact.GetEnd()
		})
	}
	for _, look := range looks {
		if look.GetAllFixed() {
			left = nil
		}
		for _, fact := range look.GetFixed() {
			drop(fact)
		}
		for _, fact := range look.GetFound() {
			if fact.GetLabel() == "" { // two lamps of an end may be dead, each by its label
				drop(fact)
			}
			left = append(left, &pb.LookOver{Name: look.GetName(), Ride: look.GetRide(), By: look.GetBy(), ByName: look.GetByName(),
				At: look.GetAt(), Note: look.GetNote(), Found: []*pb.Found{fact}})
		}
	}
	return left
}

// look lays what was found over the facts. What is not changed is shared with those given.
func look(facts *pb.BikeFacts, looks []*pb.LookOver, zone *time.Location) *pb.BikeFacts {
	left := Outstanding(looks)
	if len(left) == 0 {
		return facts
	}
	seen := fork(facts)
	slices.SortStableFunc(left, func(a, b *pb.LookOver) int { return lent(a) - lent(b) }) // a lent lamp is not the dead one
	for _, one := range left {
		lay(seen, one.Found[0], civilDate(one.GetAt().AsTime(), zone))
	}
	return seen
}

func lent(look *pb.LookOver) int {
	if look.Found[0].GetWhat() == pb.Found_LIGHT_LENT {
		return 1
	}
	return 0
}

// lay changes the fact that was found otherwise, on a civil date.
func lay(seen *pb.BikeFacts, fact *pb.Found, on string) {
	end := fact.GetEnd()
	if !isEnd(end) {
		return
	}
	switch fact.GetWhat() {
	case pb.Found_LIGHT_DEAD:
		seen.Lights = slices.DeleteFunc(slices.Clone(seen.Lights), func(lamp *pb.Light) bool {
			return lamp.GetEnd() == end && (fact.GetLabel() == "" || fact.GetLabel() == lamp.GetLabel())
		})
	case pb.Found_LIGHT_LENT:
		seen.Lights = append(slices.Clone(seen.Lights), &pb.Light{End: end, Mode: pb.Light_STEADY, Mount: pb.Light_BIKE,
			Power: pb.Light_RECHARGEABLE, RuntimeMin: ptr(fact.GetRuntimeMin()), ChargedOn: on, Label: "lent"})
	case pb.Found_GUARD_MISSING, pb.Found_GUARD_LOOSE:
		layGuard(seen, fact)
	case pb.Found_TYRE_CUT, pb.Found_TYRE_WORN:
		layTyre(seen, fact)
	default:
		layBrake(seen, fact)
	}
}

func layGuard(seen *pb.BikeFacts, fact *pb.Found) {
	own(&seen.Guards)
	guard := guardEnd{end: fact.GetEnd()}.own(seen)
	if fact.GetWhat() == pb.Found_GUARD_LOOSE {
		guard.Secure = ptr(false)
		return
	}
	proto.Reset(guard)
	guard.Kind = pb.Guard_NONE
}

func layTyre(seen *pb.BikeFacts, fact *pb.Found) {
	tyres := own(&seen.Tyres)
	tyre := made(&tyres.Front)
	if fact.GetEnd() == pb.End_REAR {
		tyre = made(&tyres.Rear)
	}
	if fact.GetWhat() == pb.Found_TYRE_CUT {
		tyre.Cuts = pb.Tyre_DEEP
		return
	}
	tyre.Tread = pb.Tyre_FINISHED
}

func layBrake(seen *pb.BikeFacts, fact *pb.Found) {
	own(&seen.Brakes)
	brake := brakeEnd{fact.GetEnd()}.own(seen)
	switch fact.GetWhat() {
	case pb.Found_PADS_WORN:
		brake.PadMm = ptr(fact.GetPadMm())
	case pb.Found_BRAKE_OILY:
		brake.Contaminated = ptr(true)
	case pb.Found_BRAKE_DEAD:
		brake.Kind = pb.Brake_NONE
	case pb.Found_RIM_WORN:
		brake.RimWear = pb.Brake_WORN
	}
}

// tellLooks says in the findings that look-overs change who found what when, and what was declared.
func tellLooks(book Book, bike Subject, group *pb.GroupPlan, at time.Time, result *pb.Assessment) {
	left := Outstanding(bike.Looks)
	if len(left) == 0 {
		return
	}
	only := func(looks ...*pb.LookOver) []*pb.Finding {
		bare := bike
		bare.Looks = looks
		return assess(book, bare, group, at).Findings
	}
	declared := only()
	alone := make([][]*pb.Finding, len(left))
	for i, one := range left {
		alone[i] = only(one)
	}
	differs := func(a, b *pb.Finding) bool {
		return a.Standing != b.Standing || a.Declared != b.Declared || a.Remedy != b.Remedy
	}
	for i, finding := range result.Findings {
		if !differs(finding, declared[i]) {
			continue
		}
		var why []*pb.LookOver
		for j, one := range left {
			if differs(alone[j][i], declared[i]) {
				why = append(why, one)
			}
		}
		if len(why) == 0 { // only together
			why = left
		}
		finding.NotDeclared = false
		finding.Declared = phrase.LookedOver(why, at.Location()) + "; declared" + declaredOn(bike.Declaration, at.Location()) + ": " + declared[i].Declared
	}
}

func declaredOn(declaration *pb.Declaration, zone *time.Location) string {
	if stamp := declaration.GetCertifiedAt(); stamp.IsValid() {
		return stamp.AsTime().In(zone).Format(" 2 Jan 2006")
	}
	return ""
}
