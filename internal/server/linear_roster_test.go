package server_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// rosterCall is one call about who rides, and about what is published of it: join, withdraw, publish, issues.
type rosterCall struct {
	what, member string
	// basis is that of a placement looked at before, riders who rode in it.
	basis, riders string
}

// rosterState is who is signed up, and the riders of every issue: "ada bo|ada bo;ada".
type rosterState struct {
	riders []string
	issues []string
}

func (s rosterState) on() string { return strings.Join(s.riders, " ") }

// rosterModel is how publishing must behave: what is published is what was looked at, nobody joins or leaves unseen between
// the look and the issue, and issues are numbered without a gap.
var rosterModel = porcupine.Model{
	Init: func() any { return rosterState{} },
	Step: func(state, input, output any) (bool, any) {
		was, call, got := state.(rosterState), input.(rosterCall), output.(string)
		next := rosterState{riders: slices.Clone(was.riders), issues: was.issues}
		at := slices.Index(was.riders, call.member)
		switch call.what {
		case "join":
			if at < 0 {
				next.riders = slices.Sorted(slices.Values(append(next.riders, call.member)))
			}
			return got == "ok", next
		case "withdraw":
			if at >= 0 {
				next.riders = slices.Delete(next.riders, at, at+1)
			}
			return got == "ok", next
		case "look":
			return got == was.on(), was
		case "issues":
			return got == strings.Join(was.issues, "; "), was
		}
		if got == "refused" { // also where somebody left and came back, which a look does not tell
			return true, was
		}
		next.issues = append(slices.Clone(was.issues), was.on())
		return call.riders == was.on() && got == fmt.Sprintf("issue %d: %s", len(next.issues), was.on()), next
	},
	Equal: func(a, b any) bool {
		return a.(rosterState).on() == b.(rosterState).on() && slices.Equal(a.(rosterState).issues, b.(rosterState).issues)
	},
	DescribeOperation: func(in, out any) string { return fmt.Sprintf("%v -> %v", in, out) },
}

// ridersOf are the ids of those who are placed or told why they are not.
func ridersOf(placement *pb.Placement) string {
	var ids []string
	for _, group := range placement.GetGroups() {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil {
					ids = append(ids, names.Last(rider.Member))
				}
			}
		}
	}
	for _, one := range placement.GetUnplaced() {
		ids = append(ids, names.Last(one.Member))
	}
	slices.Sort(ids)
	return strings.Join(ids, " ")
}

// doRoster makes a call for real, tells what came of it, and the basis of a placement that was looked at.
func (w *world) doRoster(ride string, call rosterCall) (got, basis string) {
	switch call.what {
	case "join":
		if _, err := w.join(call.member, ride, club+"/members/"+call.member+winterBike, nil); err != nil {
			return told(err), ""
		}
		return "ok", ""
	case "withdraw":
		if got := w.withdraws(call.member, ride); got != "no error" && !strings.HasPrefix(got, "NotFound") {
			return got, ""
		}
		return "ok", ""
	case "look":
		placement, err := w.rides.PlaceRide(w.as("lea"), &pb.PlaceRideRequest{Name: ride})
		if err != nil {
			return told(err), ""
		}
		return ridersOf(placement), placement.Basis
	case "issues":
		listed, err := w.rides.ListRosters(w.as("lea"), &pb.ListRostersRequest{Parent: ride})
		if err != nil {
			return told(err), ""
		}
		issues := make([]string, len(listed.Rosters))
		for _, issue := range listed.Rosters {
			whole, err := w.rides.GetRoster(w.as("lea"), &pb.GetRosterRequest{Name: issue.Name})
			if err != nil {
				return told(err), ""
			}
			issues[issue.Number-1] = ridersOf(whole.Placement)
		}
		return strings.Join(issues, "; "), ""
	}
	issue, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride, Basis: call.basis})
	switch got := told(err); {
	case err == nil:
		return fmt.Sprintf("issue %d: %s", issue.Number, ridersOf(issue.Placement)), ""
	case strings.Contains(got, "CHANGED_MEANWHILE") || strings.Contains(got, "nothing has changed since"):
		return "refused", ""
	default:
		return got, ""
	}
}

// TestPublishLinearizable lets riders come and go while two people look at the placement and publish what they looked at.
func TestPublishLinearizable(t *testing.T) {
	w := newWorld(t)
	people(w)
	publishLinearizable(t, w)
}

// publishLinearizable has the clients call the servers by turns.
func publishLinearizable(t *testing.T, servers ...*world) {
	w := servers[0]
	for seed := range uint64(4) {
		ride := w.ride("lea", sunday())
		var mu sync.Mutex
		var history []porcupine.Operation
		began := time.Now()
		published := 0
		do := func(client int, call rosterCall) (got, basis string) {
			from := time.Since(began)
			got, basis = servers[client%len(servers)].doRoster(ride.Name, call)
			to := time.Since(began)
			mu.Lock()
			defer mu.Unlock()
			if strings.HasPrefix(got, "issue ") {
				published++
			}
			history = append(history, porcupine.Operation{ClientId: client, Input: call, Output: got, Call: from.Nanoseconds(), Return: to.Nanoseconds()})
			return got, basis
		}
		for _, id := range []string{"ben", "lea"} { // with whom a group can run
			do(0, rosterCall{what: "join", member: id})
		}
		var clients sync.WaitGroup
		for client := range 4 {
			clients.Go(func() {
				draw := rand.New(rand.NewPCG(seed, uint64(client)))
				for range 10 {
					switch {
					case client < 2 && draw.IntN(3) > 0:
						looked, basis := do(client, rosterCall{what: "look"})
						do(client, rosterCall{what: "publish", basis: basis, riders: looked})
					case draw.IntN(4) == 0:
						do(client, rosterCall{what: "issues"})
					default:
						do(client, rosterCall{what: []string{"join", "withdraw"}[draw.IntN(2)], member: []string{"ada", "bo"}[draw.IntN(2)]})
					}
				}
			})
		}
		clients.Wait()
		looked, basis := do(0, rosterCall{what: "look"}) // on a busy machine somebody may have been in the way of each issue
		do(0, rosterCall{what: "publish", basis: basis, riders: looked})
		if result, _ := porcupine.CheckOperationsVerbose(rosterModel, history, time.Minute); result != porcupine.Ok || published == 0 {
			t.Errorf("seed %d: %s, %d published: no order of these calls explains their answers:", seed, result, published)
			for _, one := range history {
				t.Logf("%9d..%9d %d %v -> %v", one.Call, one.Return, one.ClientId, one.Input, one.Output)
			}
		}
	}
}

// TestPublishLinearityIsHeld shows that the check can fail: two issues have one number.
func TestPublishLinearityIsHeld(t *testing.T) {
	history := []porcupine.Operation{
		{ClientId: 0, Input: rosterCall{what: "join", member: "ben"}, Output: "ok", Call: 0, Return: 1},
		{ClientId: 0, Input: rosterCall{what: "publish", riders: "ben"}, Output: "issue 1: ben", Call: 2, Return: 5},
		{ClientId: 1, Input: rosterCall{what: "publish", riders: "ben"}, Output: "issue 1: ben", Call: 3, Return: 4},
	}
	if porcupine.CheckOperations(rosterModel, history) {
		t.Error("a number given twice passes for right")
	}
}
