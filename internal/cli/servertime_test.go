package cli_test

import (
	"context"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// threeRides is a server with a ride a week.
type threeRides struct {
	pb.UnimplementedRideServiceServer
}

func (threeRides) ListRides(context.Context, *pb.ListRidesRequest) (*pb.ListRidesResponse, error) {
	var all []*pb.Ride
	for _, day := range []int{20, 13, 6} { // as the server lists them
		at := time.Date(2019, time.December, day, 10, 30, 0, 0, time.UTC)
		all = append(all, &pb.Ride{Name: "clubs/fenwick/rides/" + at.Format(time.DateOnly), Title: "Becks", State: pb.Ride_OPEN, StartAt: timestamppb.New(at)})
	}
	return &pb.ListRidesResponse{Rides: all}, nil
}

// TestListByTheServersTime: which ride is the next goes by the clock of the server, whatever that of this device says; a server that
// tells no time is taken to have this device's.
func TestListByTheServersTime(t *testing.T) {
	for _, c := range []struct {
		name string
		at   *timestamppb.Timestamp
		want string
	}{
		{"the server's", timestamppb.New(time.Date(2019, time.December, 11, 19, 0, 0, 0, time.UTC)), "2019-12-13 2019-12-20 2019-12-06"},
		{"none told", nil, "2019-12-20 2019-12-13 2019-12-06"},
	} {
		t.Run(c.name, func(t *testing.T) {
			fake := &fakeClub{rides: threeRides{}, answer: func(context.Context) (*pb.WhoAmIResponse, error) {
				return &pb.WhoAmIResponse{Club: &pb.Club{Name: "clubs/fenwick", Zone: "Europe/London"}, At: c.at,
					Member: &pb.Member{Name: "clubs/fenwick/members/ida"}}, nil
			}}
			listener := listen(t)
			fake.serve(t, listener, nil)
			alone(t, "GRITWARD_SERVER", listener.Addr().String(), "GRITWARD_TOKEN", token)
			got := run(t, "", "ride", "list")
			if ids := strings.Join(regexp.MustCompile(`(?m)^2019-\d\d-\d\d`).FindAllString(got.out, -1), " "); got.code != 0 || ids != c.want {
				t.Errorf("%s, want %s; %d %q %s", ids, c.want, got.code, got.err, got.out)
			}
		})
	}
}
