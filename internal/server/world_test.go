package server_test

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/seal"
	"gritward/internal/server"
	"gritward/internal/store"
	"gritward/internal/store/enginetest"
	"gritward/internal/store/storetest"
	"gritward/internal/trail"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

const club = "clubs/fenwick"

// pages is the address below which the rosters of a world have their pages.
const pages = "https://rides.example"

// friday is when the story of a test begins, in a club of the zone Europe/London.
var friday = time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC)

// world is a real server on a real socket over a real store, with a clock that a test moves by hand.
type world struct {
	t         testing.TB
	ctx       context.Context
	ledger    *ledger.Ledger
	conn      *grpc.ClientConn
	path      string
	clubs     pb.ClubServiceClient
	bikes     pb.BikeServiceClient
	policies  pb.PolicyServiceClient
	rides     pb.RideServiceClient
	rolls     pb.RollCallServiceClient
	starts    pb.StartServiceClient
	personal  pb.PersonalServiceClient
	incidents pb.IncidentServiceClient
	seasons   pb.SeasonServiceClient
	keys      *seal.Keys
	store     store.Store
	tokens    map[string]string
	log       *safeBuffer
	folder    *server.PolicyFolder
	overdue   *server.RollWatch
	ahead     *server.Ahead
	counters  *server.Counters
	// nextID is the id that the next member gets: in these tests the name as a slug.
	nextID string
	held   *held

	// stop ends what is under way as a server that stops does.
	stop func()

	mu  sync.Mutex
	now time.Time
}

// held is the store with a hand on it: while it is held, what is written is taken back in the end, as after a failed commit.
type held struct {
	store.Store
	on atomic.Bool
}

var errHeld = errors.New("the store is held: nothing is written")

// Update implements store.Store.
func (h *held) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	return h.Store.Update(ctx, club, func(tx store.Tx) error {
		if err := use(tx); err != nil || !h.on.Load() {
			return err
		}
		return errHeld
	})
}

// safeBuffer is a log that a test reads while the server writes.
type safeBuffer struct {
	mu   sync.Mutex
	text strings.Builder
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.Write(p)
}

func (b *safeBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.String()
}

func (w *world) clock() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now
}

func (w *world) setClock(at time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = at
}

// newWorld founds a club whose secretary is "sec", with the shipped policy and a handful of members.
func newWorld(t *testing.T) *world { return newWorldFor(t) }

// newWorldFor is newWorld for a benchmark too.
func newWorldFor(t testing.TB) *world { return newWorldWith(t, server.Forecasts{}) }

// newWorldWith is newWorld with a weather service to ask.
func newWorldWith(t testing.TB, forecasts server.Forecasts) *world {
	return bareWorldWith(t, forecasts).begun()
}

// newWorldSending is newWorld with letters queued for a mail server.
func newWorldSending(t testing.TB) *world {
	return bareWorldWithin(t, server.Forecasts{}, server.Limits{}, func(config *server.Config) { config.Mail = true }).begun()
}

// begun founds the club of most tests, with the shipped policy.
func (w *world) begun() *world {
	w.t.Helper()
	w.found("fenwick", "Sec")
	if _, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{
		Parent: club, File: "winter.yaml", Content: policyfile.Winter}); err != nil {
		w.t.Fatal(err)
	}
	return w
}

// bareWorldWith is a server without a club.
func bareWorldWith(t testing.TB, forecasts server.Forecasts) *world {
	return bareWorldWithin(t, forecasts, server.Limits{})
}

// bareWorldWithin is bareWorldWith with limits, and what else is set.
func bareWorldWithin(t testing.TB, forecasts server.Forecasts, limits server.Limits, set ...func(*server.Config)) *world {
	w := &world{t: t, tokens: map[string]string{}, now: friday, log: &safeBuffer{}, counters: server.NewCounters()}
	w.path = filepath.Join(t.TempDir(), "club.db")
	opened := enginetest.Open(t, w.path, w.clock)
	w.store = opened
	w.held = &held{Store: storetest.Rerun(opened)}
	w.ledger = ledger.New(w.held, w.clock)
	w.ledger.Distrust(func(key string) { t.Errorf("record %s is shared, and was changed", key) })
	var err error
	if w.keys, err = seal.New(); err != nil {
		t.Fatal(err)
	}
	w.folder = server.NewPolicyFolder(filepath.Dir(w.path))
	ending, stop := context.WithCancel(context.Background())
	w.stop = stop
	t.Cleanup(stop)
	w.overdue, w.ahead = server.NewRollWatch(), server.NewAhead()
	config := server.Config{Ending: ending, RollWatch: w.overdue, Ahead: w.ahead,
		Ledger: w.ledger, PagesAddress: pages, Folder: w.folder, Forecasts: forecasts, Limits: limits, Counters: w.counters, Keys: w.keys, MemberID: w.memberID, Log: slog.New(trail.Handler(slog.NewTextHandler(w.log, &slog.HandlerOptions{Level: slog.LevelDebug})))}
	for _, change := range set {
		change(&config)
	}
	answering, err := server.New(config)
	if err != nil {
		t.Fatal(err)
	}
	w.serve(answering, limits)
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
	w.ctx = ctx
	t.Cleanup(func() {
		w.indexesHold()
		cancel()
		_ = w.conn.Close()
		answering.Stop()
		if err := opened.Close(); err != nil {
			t.Error(err)
		}
	})
	return w
}

// serve answers on loopback, and has the world call there.
func (w *world) serve(answering *grpc.Server, limits server.Limits) {
	w.t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		w.t.Fatal(err)
	}
	go func() { _ = answering.Serve(limits.Listener(listener, w.counters)) }()
	w.conn, err = grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		w.t.Fatal(err)
	}
	w.clubs, w.bikes = pb.NewClubServiceClient(w.conn), pb.NewBikeServiceClient(w.conn)
	w.policies, w.rides = pb.NewPolicyServiceClient(w.conn), pb.NewRideServiceClient(w.conn)
	w.rolls = pb.NewRollCallServiceClient(w.conn)
	w.starts = pb.NewStartServiceClient(w.conn)
	w.personal = pb.NewPersonalServiceClient(w.conn)
	w.incidents, w.seasons = pb.NewIncidentServiceClient(w.conn), pb.NewSeasonServiceClient(w.conn)
}

// bytesKept is what the engine keeps of the store, byte by byte.
func (w *world) bytesKept() []byte {
	w.t.Helper()
	return enginetest.Raw(w.t, w.store, w.path)
}

// indexesHold holds the indexes, agendas and tallies of every club against its records, whatever a test did to them.
func (w *world) indexesHold() {
	w.t.Helper()
	clubs, err := w.ledger.Clubs(context.Background())
	if err != nil {
		return // the test closed the store
	}
	for _, club := range clubs {
		if err := w.ledger.View(context.Background(), club, func(tx *ledger.Tx) error {
			faults, err := tx.IndexFaults()
			for _, fault := range faults {
				w.t.Errorf("%s: %s", club, fault)
			}
			for _, ride := range server.Missed(tx, w.ledger) {
				w.t.Errorf("%s: riders of %s are overdue, and nobody watches", club, ride)
			}
			return err
		}); err != nil {
			w.t.Error(err)
		}
	}
}

// as is a context with the token of a member.
func (w *world) as(id string) context.Context {
	w.t.Helper()
	token, ok := w.tokens[id]
	if !ok {
		w.t.Fatalf("there is no token for %q", id)
	}
	return metadata.AppendToOutgoingContext(w.ctx, "authorization", "Bearer "+token)
}

// found founds a club and accepts the invite of its secretary.
func (w *world) found(id, secretary string) {
	w.t.Helper()
	code, err := server.Found(w.ctx, w.ledger, id, &pb.Club{
		Title: strings.ToUpper(id), Zone: "Europe/London", LatitudeDeg: 54.085, LongitudeDeg: -2.285}, secretary)
	if err != nil {
		w.t.Fatal(told(err))
	}
	w.accept(code)
}

// memberID draws the id of a new member.
func (w *world) memberID() string { return cmp.Or(w.nextID, names.NewMemberID()) }

// accept uses an invite. A new member's id is the name as a slug, so that tests can be read; where that is taken it is drawn.
func (w *world) accept(code string) *pb.Member {
	w.t.Helper()
	of, _, _ := strings.Cut(code, ".")
	if err := w.ledger.View(w.ctx, of, func(tx *ledger.Tx) error {
		record, err := tx.InviteByCode(code)
		if err != nil {
			return err
		}
		w.nextID = names.Slug(record.GetInvite().GetDisplayName(), 40)
		if _, err = tx.Member(w.nextID); fault.Is(err, pb.Reason_NOT_FOUND) {
			return nil
		}
		w.nextID = ""
		return err
	}); err != nil {
		w.t.Fatal(err)
	}
	defer func() { w.nextID = "" }()
	let, err := w.clubs.AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: code, DeviceTitle: "test"})
	if err != nil {
		w.t.Fatal(told(err))
	}
	id := let.Member.Name[strings.LastIndex(let.Member.Name, "/")+1:]
	w.tokens[id] = let.Token
	return let.Member
}

// member invites a member and sets what is given of the record.
func (w *world) member(name string, set *pb.Member, roles ...pb.Role) *pb.Member {
	w.t.Helper()
	invite, err := w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{
		Parent: club, Invite: &pb.Invite{DisplayName: name, Roles: roles}})
	if err != nil {
		w.t.Fatal(told(err))
	}
	member := w.accept(invite.Code)
	if set == nil {
		return member
	}
	set.Name = member.Name
	member, err = w.clubs.UpdateMember(w.as("sec"), &pb.UpdateMemberRequest{Member: set, UpdateMask: &fieldmaskpb.FieldMask{
		Paths: []string{"pace_min_kmh", "pace_max_kmh", "may_lead", "may_mark_back", "junior", "guardian"}}})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return member
}

// declare certifies a bike of a member and gives its name.
func (w *world) declare(id string, facts *pb.BikeFacts) string {
	w.t.Helper()
	made, err := w.bikes.DeclareBike(w.as(id), &pb.DeclareBikeRequest{Parent: club + "/members/" + id, Facts: facts})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return made.Bike.Name
}

// gpx is the route of the rides in these tests.
func gpx(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("../demo/four-becks.gpx")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// sunday is a ride with a group home in daylight and one that is out in the dusk.
func sunday() *pb.Ride {
	return &pb.Ride{
		Title: "Four Becks", StartLocal: "2026-12-13T10:30", MeetingPoint: "The weighbridge",
		Groups: []*pb.Group{
			{Id: "brisk", PaceKmh: 27, MinSize: 1},
			{Id: "easy", PaceKmh: 18, MinSize: 1},
		},
		Stops: []*pb.Stop{{Title: "Barn", AtDistanceM: 36500, Minutes: 40}},
		Conditions: &pb.Conditions{Start: &pb.Weather{
			TemperatureC: proto.Float64(20), Wet: proto.Bool(false), VisibilityM: proto.Float64(20000)}},
	}
}

// ride creates a ride as the leader given.
func (w *world) ride(leader string, ride *pb.Ride) *pb.Ride {
	w.t.Helper()
	made, err := w.rides.CreateRide(w.as(leader), &pb.CreateRideRequest{Parent: club, Ride: ride, RouteGpx: gpx(w.t)})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return made
}

func (w *world) join(id, ride, bike string, set *pb.Signup) (*pb.Signup, error) {
	if set == nil {
		set = &pb.Signup{}
	}
	set.Member, set.Bike = club+"/members/"+id, bike
	return w.rides.JoinRide(w.as(id), &pb.JoinRideRequest{Parent: ride, Signup: set})
}

// told is an error as a client sees it: code, reason, message, fields and limits, on one line.
func told(err error) string {
	made, ok := status.FromError(err)
	if !ok || err == nil {
		return "no error"
	}
	parts := []string{made.Code().String()}
	for _, detail := range made.Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			parts = append(parts, d.Reason)
		case *errdetails.BadRequest:
			for _, field := range d.FieldViolations {
				parts = append(parts, field.Field+": "+field.Description)
			}
		case *errdetails.PreconditionFailure:
			for _, limit := range d.Violations {
				parts = append(parts, limit.Subject+": "+limit.Description)
			}
		}
	}
	return strings.Join(append(parts, made.Message()), " | ")
}
