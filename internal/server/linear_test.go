package server_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// signupCall is one call about the sign-ups of a ride: join, withdraw, places, list.
type signupCall struct {
	what, member string
	places       int32
}

// signupModel is what sign-ups must look like to everybody at once: a line of people, of whom the first so many have a
// place. It is written without looking at the server: the state is "places|a b c", in the order of their turns, with a
// star behind who has a place.
var signupModel = porcupine.Model{
	Init: func() any { return "3|" },
	Step: func(state, input, output any) (bool, any) {
		line := readLine(state.(string))
		call, got := input.(signupCall), output.(string)
		want := "ok"
		switch at := line.find(call.member); call.what {
		case "join":
			if at < 0 {
				line.people = append(line.people, person{id: call.member})
				line.moveUp()
				at = len(line.people) - 1
			}
			want = line.stands(at)
		case "withdraw":
			if at >= 0 {
				line.people = append(line.people[:at:at], line.people[at+1:]...)
				line.moveUp()
			}
		case "places":
			if call.places > 0 && int(call.places) < line.taken() {
				want = "refused"
				break
			}
			line.places = int(call.places)
			line.moveUp()
		case "list":
			want = line.list()
		}
		return got == want, line.String()
	},
	Equal:             func(a, b any) bool { return a == b },
	DescribeOperation: func(in, out any) string { return fmt.Sprintf("%v -> %v", in, out) },
}

type person struct {
	id string
	in bool
}

type line struct {
	places int
	people []person
}

func readLine(state string) *line {
	l := &line{}
	places, people, _ := strings.Cut(state, "|")
	_, _ = fmt.Sscan(places, &l.places)
	for _, one := range strings.Fields(people) {
		id, in := strings.CutSuffix(one, "*")
		l.people = append(l.people, person{id, in})
	}
	return l
}

func (l *line) String() string {
	said := fmt.Sprint(l.places, "|")
	for _, one := range l.people {
		said += one.id
		if one.in {
			said += "*"
		}
		said += " "
	}
	return said
}

func (l *line) find(id string) int {
	for i, one := range l.people {
		if one.id == id {
			return i
		}
	}
	return -1
}

func (l *line) taken() (n int) {
	for _, one := range l.people {
		if one.in {
			n++
		}
	}
	return n
}

// moveUp gives free places to those who are first in the line.
func (l *line) moveUp() {
	for i := range l.people {
		if !l.people[i].in && (l.places == 0 || l.taken() < l.places) {
			l.people[i].in = true
		}
	}
}

func (l *line) stands(at int) string {
	if l.people[at].in {
		return "in"
	}
	before := 0
	for _, one := range l.people[:at] {
		if !one.in {
			before++
		}
	}
	return fmt.Sprintf("waiting, %d before", before)
}

func (l *line) list() string {
	var all []string
	for i, one := range l.people {
		all = append(all, one.id+" "+l.stands(i))
	}
	return strings.Join(all, "; ")
}

// do makes a call for real, and tells what came of it.
func (w *world) do(ride string, call signupCall) string {
	switch call.what {
	case "join":
		signup, err := w.join(call.member, ride, club+"/members/"+call.member+winterBike, nil)
		if err != nil {
			return told(err)
		}
		return standsAt(signup)
	case "withdraw":
		got := w.withdraws(call.member, ride)
		if got == "no error" || strings.HasPrefix(got, "NotFound") { // never signed up
			return "ok"
		}
		return got
	case "places":
		switch got := w.places(ride, call.places); {
		case got == "no error":
			return "ok"
		case strings.Contains(got, "have a place already"):
			return "refused"
		default:
			return got
		}
	default:
		page, err := w.rides.ListSignups(w.as("lea"), &pb.ListSignupsRequest{Parent: ride})
		if err != nil {
			return told(err)
		}
		var all []string
		for _, signup := range page.Signups {
			all = append(all, names.Last(signup.Member)+" "+standsAt(signup))
		}
		return strings.Join(all, "; ")
	}
}

// TestSignupsLinearizable lets six clients sign up, withdraw, look and change the places at once, and has porcupine find
// an order of the calls, one after another, that explains every answer.
func TestSignupsLinearizable(t *testing.T) {
	w := newWorld(t)
	people(w)
	signupsLinearizable(t, w)
}

// signupsLinearizable has the clients call the servers by turns.
func signupsLinearizable(t *testing.T, servers ...*world) {
	w := servers[0]
	w.declare("mia", bike("winter bike", 300))
	riders := []string{"lea", "ben", "ada", "bo", "mia"}
	for seed := range uint64(6) {
		ride := w.ride("lea", sunday())
		if got := w.places(ride.Name, 3); got != "no error" {
			t.Fatal(got)
		}
		var mu sync.Mutex
		var history []porcupine.Operation
		began := time.Now()
		var clients sync.WaitGroup
		for client := range 6 {
			clients.Add(1)
			go func() {
				defer clients.Done()
				draw := rand.New(rand.NewPCG(seed, uint64(client)))
				for range 14 {
					call := signupCall{what: "join", member: riders[draw.IntN(len(riders))]}
					switch draw.IntN(7) {
					case 0, 1:
						call.what = "withdraw"
					case 2:
						call = signupCall{what: "places", places: int32(1 + draw.IntN(4))}
					case 3:
						call = signupCall{what: "list"}
					}
					from := time.Since(began)
					got := servers[client%len(servers)].do(ride.Name, call)
					to := time.Since(began)
					mu.Lock()
					history = append(history, porcupine.Operation{ClientId: client, Input: call, Output: got,
						Call: from.Nanoseconds(), Return: to.Nanoseconds()})
					mu.Unlock()
				}
			}()
		}
		clients.Wait()
		if result, _ := porcupine.CheckOperationsVerbose(signupModel, history, time.Minute); result != porcupine.Ok {
			t.Errorf("seed %d: %s: no order of these calls explains their answers:", seed, result)
			for _, one := range history {
				t.Logf("%9d..%9d %d %v -> %v", one.Call, one.Return, one.ClientId, one.Input, one.Output)
			}
		}
	}
}

// TestLinearityIsHeld shows that the check can fail: two people are told that they have the last place.
func TestLinearityIsHeld(t *testing.T) {
	history := []porcupine.Operation{
		{ClientId: 0, Input: signupCall{what: "places", places: 1}, Output: "ok", Call: 0, Return: 1},
		{ClientId: 1, Input: signupCall{what: "join", member: "ben"}, Output: "in", Call: 2, Return: 5},
		{ClientId: 2, Input: signupCall{what: "join", member: "bo"}, Output: "in", Call: 3, Return: 4},
	}
	if porcupine.CheckOperations(signupModel, history) {
		t.Error("one place given twice passes for right")
	}
}
