package server_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// rollCallOf is one call about the roll call of a ride: mark, roll, close, reopen.
type rollCallOf struct {
	what, member string
	mark         pb.Mark_What
	// tenth is when the mark says that it was made, in tenths of a second after the start; each mark has its own.
	tenth int
}

// after is the state that the newest mark of a rider gives, and whether the rider is accounted for by it.
var after = map[pb.Mark_What]struct {
	state     pb.RiderRoll_State
	accounted bool
}{
	0:                   {pb.RiderRoll_NOT_SEEN, false},
	pb.Mark_SIGNED_ON:   {pb.RiderRoll_SIGNED_ON, false},
	pb.Mark_IN_GROUP:    {pb.RiderRoll_OUT, false},
	pb.Mark_TURNED_BACK: {pb.RiderRoll_TURNED_BACK, false},
	pb.Mark_HOME:        {pb.RiderRoll_HOME, true},
	pb.Mark_HANDED_OVER: {pb.RiderRoll_HANDED_OVER, true},
}

// rollState is what everybody must see at once: of each rider the newest mark by its own time, and whether the ride is
// closed. It is written without looking at the server.
type rollState struct {
	riders map[string]rollMark
	closed bool
}

type rollMark struct {
	what  pb.Mark_What
	tenth int
}

// rollRiders are the riders of the ride in these histories.
var rollRiders = []string{"ada", "ben", "bo", "lea"}

func (s rollState) String() string {
	said := []string{fmt.Sprint(s.closed)}
	for _, rider := range rollRiders {
		said = append(said, fmt.Sprintf("%s=%d@%d", rider, s.riders[rider].what, s.riders[rider].tenth))
	}
	return strings.Join(said, " ")
}

func (s rollState) roll() string {
	var said []string
	for _, rider := range rollRiders {
		said = append(said, rider+" "+after[s.riders[rider].what].state.String())
	}
	return strings.Join(said, "; ")
}

func (s rollState) accounted() bool {
	return !slices.ContainsFunc(rollRiders, func(rider string) bool { return !after[s.riders[rider].what].accounted })
}

// with is the state after a mark.
func (s rollState) with(rider string, mark rollMark) rollState {
	next := rollState{riders: map[string]rollMark{}, closed: s.closed}
	for _, one := range rollRiders {
		next.riders[one] = s.riders[one]
	}
	if mark.tenth > next.riders[rider].tenth {
		next.riders[rider] = mark
	}
	return next
}

// rollModel is how the roll call must behave, one call after another.
var rollModel = porcupine.Model{
	Init: func() any { return rollState{} },
	Step: func(state, input, output any) (bool, any) {
		was, call, got := state.(rollState), input.(rollCallOf), output.(string)
		switch call.what {
		case "mark":
			return got == "ok", was.with(call.member, rollMark{call.mark, call.tenth})
		case "roll":
			return got == was.roll(), was
		case "close":
			if was.closed || !was.accounted() {
				return got == "refused", was
			}
			next := was.with("", rollMark{})
			next.closed = true
			return got == "ok", next
		default:
			if !was.closed {
				return got == "refused", was
			}
			next := was.with("", rollMark{})
			next.closed = false
			return got == "ok", next
		}
	},
	Equal:             func(a, b any) bool { return a.(rollState).String() == b.(rollState).String() },
	DescribeOperation: func(in, out any) string { return fmt.Sprintf("%v -> %v", in, out) },
}

// doRoll makes a call for real, and tells what came of it.
func (w *world) doRoll(ride, as string, call rollCallOf) string {
	switch call.what {
	case "mark":
		_, err := w.rolls.RecordMarks(w.as(as), &pb.RecordMarksRequest{Parent: ride, Early: true, Marks: []*pb.Mark{{
			Name: fmt.Sprintf("%s/marks/m%d", ride, call.tenth), Member: club + "/members/" + call.member, What: call.mark,
			At: timestamppb.New(sunday13(10, 30).Add(time.Duration(call.tenth) * 100 * time.Millisecond)), TimeStated: true}}})
		if err != nil {
			return told(err)
		}
		return "ok"
	case "roll":
		roll, err := w.rolls.GetRollCall(w.as(as), &pb.GetRollCallRequest{Name: ride})
		if err != nil {
			return told(err)
		}
		states := map[string]string{}
		for _, rider := range roll.Riders {
			states[names.Last(rider.Member)] = rider.State.String()
		}
		var said []string
		for _, rider := range rollRiders {
			said = append(said, rider+" "+states[rider])
		}
		return strings.Join(said, "; ")
	}
	var err error
	if call.what == "close" {
		_, err = w.rolls.CloseRide(w.as(as), &pb.CloseRideRequest{Name: ride})
	} else {
		_, err = w.rolls.ReopenRide(w.as(as), &pb.ReopenRideRequest{Name: ride, Reason: "somebody is out again"})
	}
	switch got := told(err); {
	case got == "no error":
		return "ok"
	case strings.Contains(got, "WRONG_STATE"):
		return "refused"
	default:
		return got
	}
}

// TestRollCallLinearizable lets leaders and a secretary mark riders, whose marks arrive in any order of their times, read the
// roll call, close and reopen it, all at once, and has porcupine find an order that explains every answer.
func TestRollCallLinearizable(t *testing.T) {
	w := newWorld(t)
	people(w)
	rollCallLinearizable(t, w)
}

// rollCallLinearizable has the clients call the servers by turns.
func rollCallLinearizable(t *testing.T, servers ...*world) {
	w := servers[0]
	for seed := range uint64(6) {
		w.setClock(friday)
		ride := w.ride("lea", sunday())
		for _, id := range rollRiders {
			if _, err := w.join(id, ride.Name, club+"/members/"+id+winterBike, nil); err != nil {
				t.Fatal(told(err))
			}
		}
		w.setClock(sunday13(16, 0))
		var mu sync.Mutex
		var history []porcupine.Operation
		var next atomic.Int64
		began := time.Now()
		var clients sync.WaitGroup
		for client := range 6 {
			clients.Go(func() {
				draw := rand.New(rand.NewPCG(seed, uint64(client)))
				as := []string{"lea", "sec"}[client/2%2]
				for range 14 {
					call := rollCallOf{what: "mark", member: rollRiders[draw.IntN(len(rollRiders))]}
					switch draw.IntN(8) {
					case 0, 1:
						call = rollCallOf{what: "roll"}
					case 2:
						call = rollCallOf{what: "close"}
					case 3:
						call = rollCallOf{what: "reopen"}
					default:
						call.mark = []pb.Mark_What{pb.Mark_SIGNED_ON, pb.Mark_IN_GROUP, pb.Mark_TURNED_BACK, pb.Mark_HOME, pb.Mark_HOME, pb.Mark_HANDED_OVER}[draw.IntN(6)]
						n := int(next.Add(1))
						call.tenth = (n*20+draw.IntN(80))*100 + n // later marks may be of an earlier time, and each has its own
					}
					from := time.Since(began)
					got := servers[client%len(servers)].doRoll(ride.Name, as, call)
					to := time.Since(began)
					mu.Lock()
					history = append(history, porcupine.Operation{ClientId: client, Input: call, Output: got, Call: from.Nanoseconds(), Return: to.Nanoseconds()})
					mu.Unlock()
				}
			})
		}
		clients.Wait()
		if result, _ := porcupine.CheckOperationsVerbose(rollModel, history, time.Minute); result != porcupine.Ok {
			t.Errorf("seed %d: %s: no order of these calls explains their answers:", seed, result)
			for _, one := range history {
				t.Logf("%9d..%9d %d %v -> %v", one.Call, one.Return, one.ClientId, one.Input, one.Output)
			}
		}
	}
}

// TestRollLinearityIsHeld shows that the check can fail: who is marked as home is told to be out afterwards.
func TestRollLinearityIsHeld(t *testing.T) {
	home := rollState{}.with("ben", rollMark{pb.Mark_IN_GROUP, 1})
	history := []porcupine.Operation{
		{ClientId: 0, Input: rollCallOf{what: "mark", member: "ben", mark: pb.Mark_IN_GROUP, tenth: 1}, Output: "ok", Call: 0, Return: 1},
		{ClientId: 1, Input: rollCallOf{what: "mark", member: "ben", mark: pb.Mark_HOME, tenth: 2}, Output: "ok", Call: 2, Return: 3},
		{ClientId: 0, Input: rollCallOf{what: "roll"}, Output: home.roll(), Call: 4, Return: 5},
	}
	if porcupine.CheckOperations(rollModel, history) {
		t.Error("a mark that is lost passes for right")
	}
}
