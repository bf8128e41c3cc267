//go:build etcd

package daemon_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/dial"
	"gritward/internal/ledger"
	"gritward/internal/readiness/readinesstest"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// replicas are two servers over one etcd, each a process, with a club of some members and a ride in three days.
type replicas struct {
	t       *testing.T
	args    []string
	servers [2]*started
	at      [2]string
	// ledger reads what is in etcd, past the servers.
	ledger *ledger.Ledger
	// secretary is a call in the name of the secretary; members and bikes are those who may ride.
	secretary      context.Context
	members, bikes []string
	ride           string
}

// newReplicas founds the club and starts both servers, with more arguments.
func newReplicas(t *testing.T, members int, args ...string) *replicas {
	t.Helper()
	address, prefix := etcdtest.Shared(t)
	folder := t.TempDir()
	r := &replicas{t: t}
	in := []string{"--etcd-endpoints", address, "--etcd-prefix", prefix}
	invite := foundIn(t, append(in, "--data", filepath.Join(folder, "found.db"))...)
	r.args = append(slices.Clone(in), "--key-file", filepath.Join(folder, "contacts.key"), "--device-calls-min", "100000", "--address-calls-min", "100000")
	r.args = append(r.args, args...)
	for i := range r.servers {
		r.at[i] = "127.0.0.1:0"
		r.start(i)
	}
	opened, err := etcd.Open(t.Context(), etcd.Options{Endpoints: []string{address}, Prefix: prefix, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = opened.Close() })
	r.ledger = ledger.New(opened, time.Now)
	r.secretary = r.accept(invite)
	r.fill(members)
	return r
}

// start starts one of the servers, again at its address.
func (r *replicas) start(i int) {
	r.t.Helper()
	data := filepath.Join(r.t.TempDir(), "club.db")
	r.servers[i] = start(r.t, append([]string{"--data", data, "--listen", r.at[i]}, r.args...)...)
	r.at[i] = r.servers[i].says(r.t, `Serving 1 club on (\S+)`)
}

// kill kills one of them, as SIGKILL does.
func (r *replicas) kill(i int) {
	_ = r.servers[i].Process.Kill()
	_ = r.servers[i].Wait()
}

// dial connects to the first of the servers, in the order given, as the client does.
func (r *replicas) dial(order ...int) *grpc.ClientConn {
	r.t.Helper()
	var servers []string
	for _, i := range order {
		servers = append(servers, r.at[i])
	}
	target, options := dial.To(servers)
	conn, err := grpc.NewClient(target, append(options, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	if err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// accept uses an invite, and gives a call in the name of whom it let in.
func (r *replicas) accept(code string) context.Context {
	r.t.Helper()
	let, err := pb.NewClubServiceClient(r.dial(0, 1)).AcceptInvite(r.t.Context(), &pb.AcceptInviteRequest{Code: code, DeviceTitle: "test"})
	if err != nil {
		r.t.Fatal(err)
	}
	return metadata.AppendToOutgoingContext(context.Background(), "authorization", "Bearer "+let.Token)
}

// invite makes an invite.
func (r *replicas) invite(name string, roles ...pb.Role) string {
	r.t.Helper()
	invite, err := pb.NewClubServiceClient(r.dial(0, 1)).CreateInvite(r.secretary, &pb.CreateInviteRequest{Parent: "clubs/fenwick", Invite: &pb.Invite{DisplayName: name, Roles: roles}})
	if err != nil {
		r.t.Fatal(err)
	}
	return invite.Code
}

// fill lets members in, each with a bike, adopts the policy and makes the ride.
func (r *replicas) fill(members int) {
	r.t.Helper()
	conn := r.dial(0, 1)
	clubs, bikes, rides := pb.NewClubServiceClient(conn), pb.NewBikeServiceClient(conn), pb.NewRideServiceClient(conn)
	if _, err := pb.NewPolicyServiceClient(conn).AdoptPolicy(r.secretary, &pb.AdoptPolicyRequest{Parent: "clubs/fenwick", File: "winter.yaml", Content: policyfile.Winter}); err != nil {
		r.t.Fatal(err, status.Convert(err).Details())
	}
	facts := readinesstest.WholeBike(r.t)
	if err := lookedAtToday(facts); err != nil {
		r.t.Fatal(err)
	}
	for i := range members {
		as := r.accept(r.invite(fmt.Sprintf("Rider %c", 'A'+i), pb.Role_MEMBER))
		who, err := clubs.WhoAmI(as, &pb.WhoAmIRequest{})
		if err != nil {
			r.t.Fatal(err, status.Convert(err).Details())
		}
		if _, err := clubs.UpdateMember(r.secretary, &pb.UpdateMemberRequest{Member: &pb.Member{Name: who.Member.Name, PaceMinKmh: 18, PaceMaxKmh: 27, MayLead: i%2 == 0,
			MayMarkBack: i%2 == 1, Email: fmt.Sprintf("rider%d@rides.example", i)}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"pace_min_kmh", "pace_max_kmh", "may_lead", "may_mark_back", "email"}}}); err != nil {
			r.t.Fatal(err, status.Convert(err).Details())
		}
		made, err := bikes.DeclareBike(as, &pb.DeclareBikeRequest{Parent: who.Member.Name, Facts: facts})
		if err != nil {
			r.t.Fatal(err, status.Convert(err).Details())
		}
		r.members, r.bikes = append(r.members, who.Member.Name), append(r.bikes, made.Bike.Name)
	}
	route, err := os.ReadFile("../demo/four-becks.gpx")
	if err != nil {
		r.t.Fatal(err, status.Convert(err).Details())
	}
	ride, err := rides.CreateRide(r.secretary, &pb.CreateRideRequest{Parent: "clubs/fenwick", RouteGpx: route, Ride: &pb.Ride{Title: "Four Becks",
		StartLocal: time.Now().AddDate(0, 0, 3).Format("2006-01-02T") + "10:30", MeetingPoint: "The weighbridge",
		Groups:     []*pb.Group{{Id: "brisk", PaceKmh: 25, MinSize: 1}, {Id: "easy", PaceKmh: 19, MinSize: 1}},
		Conditions: &pb.Conditions{Start: &pb.Weather{TemperatureC: proto.Float64(12), Wet: proto.Bool(false), VisibilityM: proto.Float64(20000)}}}})
	if err != nil {
		r.t.Fatal(err, status.Convert(err).Details())
	}
	r.ride = ride.Name
}

// lookedAtToday puts today into all dates of a bike: these servers have the clock of the machine.
func lookedAtToday(facts *pb.BikeFacts) error {
	return protorange.Range(facts.ProtoReflect(), func(at protopath.Values) error {
		last := at.Index(-1)
		if field := last.Step.FieldDescriptor(); last.Step.Kind() == protopath.FieldAccessStep && strings.HasSuffix(string(field.Name()), "_on") {
			at.Index(-2).Value.Message().Set(field, protoreflect.ValueOfString(time.Now().UTC().Format(time.DateOnly)))
		}
		return nil
	})
}

// join signs a member up for the ride, or changes the group that the member wishes for.
func (r *replicas) join(conn *grpc.ClientConn, member int, group, id string) error {
	ctx, cancel := context.WithTimeout(r.secretary, time.Minute)
	defer cancel()
	_, err := pb.NewRideServiceClient(conn).JoinRide(ctx, &pb.JoinRideRequest{Parent: r.ride, RequestId: id,
		Signup: &pb.Signup{Member: r.members[member], Bike: r.bikes[member], PreferredGroup: group}})
	return err
}
