package bench_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/readiness/readinesstest"
	"gritward/internal/server"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

const clubID = "fell"

// friday is when sign-up is at its busiest; the rides are on the Sunday after it.
var friday = time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC)

// club is a server on loopback over a store in a file, with members who have a device and a bike each.
type club struct {
	b       testing.TB
	path    string
	store   *counted
	ledger  *ledger.Ledger
	address string
	conn    *grpc.ClientConn
	rides   pb.RideServiceClient
	rolls   pb.RollCallServiceClient
	clubs   pb.ClubServiceClient
	watch   *server.RollWatch
	kept    *server.Retention
	facts   *pb.BikeFacts
	members int
	close   func()
	// now is the clock, which stands.
	now time.Time
}

func (c *club) clock() time.Time { return c.now }

// newClub founds a club with the shipped policy and so many members; the first is a secretary and leads all rides.
func newClub(b testing.TB, members int) *club {
	b.Helper()
	path := filepath.Join(fixtures(b), fmt.Sprintf("club%d.db", time.Now().UnixNano()))
	opened, err := bolt.Open(bolt.Options{Path: path, Now: func() time.Time { return friday }})
	if err != nil {
		b.Fatal(err)
	}
	c := newClubIn(b, members, opened, friday)
	c.path = path
	return c
}

// newClubIn is newClub in a store that is open, at another time.
func newClubIn(b testing.TB, members int, opened store.Store, now time.Time) *club {
	b.Helper()
	c := &club{b: b, now: now, facts: readinesstest.WholeBike(b), watch: server.NewRollWatch()}
	c.store = &counted{Store: opened}
	c.ledger = ledger.New(c.store, c.clock)
	log := slog.New(slog.DiscardHandler)
	c.kept = server.NewRetention(c.ledger, server.NewErasures("", c.ledger, log), log)
	answering, err := server.New(server.Config{Ledger: c.ledger, Log: log, RollWatch: c.watch})
	if err != nil {
		b.Fatal(err)
	}
	c.close = sync.OnceFunc(func() { answering.Stop(); _ = opened.Close() })
	b.Cleanup(c.close)
	c.address = serve(b, answering)
	c.conn = connections(b, c.address, 1)[0]
	c.rides, c.rolls, c.clubs = pb.NewRideServiceClient(c.conn), pb.NewRollCallServiceClient(c.conn), pb.NewClubServiceClient(c.conn)
	if _, err := server.Found(b.Context(), c.ledger, clubID, &pb.Club{
		Title: "Fell", Zone: "Europe/London", LatitudeDeg: 54.085, LongitudeDeg: -2.285}, "Sec"); err != nil {
		b.Fatal(err)
	}
	c.grow(members)
	if _, err := pb.NewPolicyServiceClient(c.conn).AdoptPolicy(c.as(0), &pb.AdoptPolicyRequest{
		Parent: names.Club(clubID), File: "winter.yaml", Content: policyfile.Winter}); err != nil {
		b.Fatal(err)
	}
	return c
}

// as is a context with the token of a member.
func (c *club) as(i int) context.Context { return with(context.Background(), token(i)) }

func token(i int) string { return fmt.Sprintf("%s.%050d", clubID, i) }

func memberName(i int) string { return names.Member(clubID, fmt.Sprintf("m%d", i)) }

func bikeName(i int) string { return memberName(i) + "/bikes/bike-1" }

// grow adds members until there are so many.
func (c *club) grow(to int) {
	c.b.Helper()
	for c.members < to {
		until := min(to, c.members+5000)
		c.write(func(tx *ledger.Tx) error {
			for i := c.members; i < until; i++ {
				if err := c.add(tx, i); err != nil {
					return err
				}
			}
			return nil
		})
		c.members = until
	}
}

func (c *club) write(use func(*ledger.Tx) error) {
	c.b.Helper()
	if err := c.ledger.Update(context.Background(), clubID, use); err != nil {
		c.b.Fatal(err)
	}
}

// add writes one member with a device and a bike.
func (c *club) add(tx *ledger.Tx, i int) error {
	sum := sha256.Sum256([]byte(token(i)))
	bike := &pb.Bike{Name: bikeName(i), CreatedAt: tx.Stamp(), Declaration: &pb.Declaration{
		Name: bikeName(i) + "/declarations/1", Revision: 1, CertifiedAt: tx.Stamp(), CertifiedBy: memberName(i), Facts: c.bikeOf(i)}}
	for _, err := range []error{
		tx.SaveMember(person(i)),
		tx.SaveDevice(&pb.DeviceRecord{TokenSha256: sum[:], Device: &pb.Device{
			Name: names.Device(clubID, fmt.Sprintf("m%d", i), "d1"), Title: "phone", CreatedAt: tx.Stamp(), LastUsedOn: "2026-12-11"}}),
		tx.AddDeclaration(bike.Declaration),
		tx.SaveBike(bike),
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// person is the member of a number: paces from 17 to 28 km/h, one in six qualified to lead, one in five to mark the back.
func person(i int) *pb.Member {
	pace := 17 + float64(i*7%9)
	one := &pb.Member{Name: memberName(i), DisplayName: fmt.Sprintf("Rider %d", i), PaceMinKmh: pace, PaceMaxKmh: pace + 3,
		MayLead: i%6 == 0, MayMarkBack: i%5 == 0, Roles: []pb.Role{pb.Role_MEMBER}, JoinedAt: timestamppb.New(friday)}
	if i == 0 {
		one.Roles = append(one.Roles, pb.Role_LEADER, pb.Role_SECRETARY)
	}
	return one
}

// bikeOf is the bike of a member: of five one has lamps that do not last, and one no guards.
func (c *club) bikeOf(i int) *pb.BikeFacts { return bikeLike(c.facts, i) }

func bikeLike(whole *pb.BikeFacts, i int) *pb.BikeFacts {
	facts := whole
	switch i % 5 {
	case 2:
		facts = proto.CloneOf(whole)
		for _, lamp := range facts.Lights {
			lamp.RuntimeMin = proto.Float64(60)
		}
	case 3:
		facts = proto.CloneOf(whole)
		facts.Guards.Rear = &pb.Guard{Kind: pb.Guard_NONE, Secure: proto.Bool(true)}
	}
	return facts
}

// sunday is a ride with so many groups.
func sunday(title string, groups int) *pb.Ride {
	ride := &pb.Ride{Title: title, StartLocal: "2026-12-13T10:30", MeetingPoint: "The weighbridge",
		Stops: []*pb.Stop{{Title: "Barn", AtDistanceM: 36500, Minutes: 40}},
		Conditions: &pb.Conditions{Start: &pb.Weather{
			TemperatureC: proto.Float64(6), Wet: proto.Bool(false), VisibilityM: proto.Float64(20000)}}}
	for g := range groups {
		ride.Groups = append(ride.Groups, &pb.Group{Id: fmt.Sprintf("g%d", g), Title: fmt.Sprintf("Group %d", g),
			PaceKmh: 19 + 8*float64(g)/float64(groups), MinSize: 3})
	}
	return ride
}

// ride creates a ride of that Sunday as its leader.
func (c *club) ride(title string, groups int) *pb.Ride {
	c.b.Helper()
	return c.create(sunday(title, groups))
}

func (c *club) create(ride *pb.Ride) *pb.Ride {
	c.b.Helper()
	gpx, err := os.ReadFile("../demo/four-becks.gpx")
	if err != nil {
		c.b.Fatal(err)
	}
	made, err := c.rides.CreateRide(c.as(0), &pb.CreateRideRequest{Parent: names.Club(clubID), Ride: ride, RouteGpx: gpx})
	if err != nil {
		c.b.Fatal(err)
	}
	return made
}

// like writes so many rides like one that is there, on its day or so many days later, and gives their names.
func (c *club) like(ride *pb.Ride, title string, n, days int) (made []string) {
	c.b.Helper()
	c.write(func(tx *ledger.Tx) error {
		line, err := tx.Route(names.Last(ride.Name))
		for i := 0; i < n && err == nil; i++ {
			one := proto.CloneOf(ride)
			one.StartAt = timestamppb.New(ride.StartAt.AsTime().AddDate(0, 0, days))
			one.StartLocal = one.StartAt.AsTime().Format("2006-01-02T15:04")
			id := fmt.Sprintf("%s-%s-%d", one.StartLocal[:10], title, i)
			one.Name, one.Title = names.Ride(clubID, id), fmt.Sprintf("%s %d", title, i)
			made = append(made, one.Name)
			if err = tx.SaveRide(one); err == nil {
				err = tx.SaveRoute(id, line)
			}
		}
		return err
	})
	return made
}

// enter signs members up for a ride without the server, from one number to before another.
func (c *club) enter(ride string, from, to int) {
	c.b.Helper()
	c.write(func(tx *ledger.Tx) (err error) {
		for i := from; i < to && err == nil; i++ {
			err = tx.SaveSignup(&pb.Signup{Name: ride + "/signups/" + names.Last(memberName(i)), Member: memberName(i), Bike: bikeName(i),
				State: pb.Signup_IN, Turn: int32(i - from + 1), CreatedAt: tx.Stamp()})
		}
		return err
	})
}

// join is the request of a member who signs up.
func join(ride string, i int) *pb.JoinRideRequest {
	return &pb.JoinRideRequest{Parent: ride, RequestId: fmt.Sprintf("join-%d-%s", i, names.Last(ride)), Signup: &pb.Signup{Member: memberName(i), Bike: bikeName(i)}}
}

// folder holds what benchmarks leave for others of the run.
var folder struct {
	once sync.Once
	path string
	err  error
}

// fixtures is a folder that is there until the run ends.
func fixtures(b testing.TB) string {
	b.Helper()
	folder.once.Do(func() { folder.path, folder.err = os.MkdirTemp("", "bench") })
	if folder.err != nil {
		b.Fatal(folder.err)
	}
	return folder.path
}

func removeFixtures() {
	if folder.path != "" {
		_ = os.RemoveAll(folder.path)
	}
}

// held is what a run of transactions wrote.
type held struct {
	mu   sync.Mutex
	puts [][]put
}

type put struct {
	key   string
	value []byte
}

func (h *held) keep(puts []put) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.puts = append(h.puts, slices.Clone(puts))
}
