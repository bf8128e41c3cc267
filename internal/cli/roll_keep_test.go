package cli_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	"gritward/internal/cli"
	"gritward/internal/names"
	"gritward/internal/settings"
	pb "gritward/proto/gritward/v1"
)

// fakeRolls takes marks, and refuses a call as its first mark that is in refuse says. A real server does not fail in every way.
type fakeRolls struct {
	pb.UnimplementedRollCallServiceServer
	mu     sync.Mutex
	refuse map[string]codes.Code
	taken  []string
}

const fakeRide = "clubs/marrowdale/rides/becks"

// RecordMarks implements RollCallService.
func (f *fakeRolls) RecordMarks(_ context.Context, request *pb.RecordMarksRequest) (*pb.RecordMarksResponse, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, mark := range request.Marks {
		if code := f.refuse[names.Last(mark.Name)]; code != codes.OK {
			return nil, status.Error(code, "it is so")
		}
	}
	for _, mark := range request.Marks {
		f.taken = append(f.taken, names.Last(mark.Name))
	}
	return &pb.RecordMarksResponse{Marks: request.Marks}, nil
}

// GetRollCall implements RollCallService.
func (f *fakeRolls) GetRollCall(context.Context, *pb.GetRollCallRequest) (*pb.RollCall, error) {
	return &pb.RollCall{Basis: &pb.RollBasis{Ride: fakeRide}}, nil
}

// ListMarks implements RollCallService.
func (f *fakeRolls) ListMarks(context.Context, *pb.ListMarksRequest) (*pb.ListMarksResponse, error) {
	return &pb.ListMarksResponse{}, nil
}

// serve starts the fake, and points the client at it.
func (f *fakeRolls) serve(t *testing.T) {
	t.Helper()
	server, listener := grpc.NewServer(), listen(t)
	pb.RegisterRollCallServiceServer(server, f)
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	t.Cleanup(func() {
		server.Stop()
		if err := <-served; err != nil {
			t.Error(err)
		}
	})
	alone(t, "GRITWARD_SERVER", listener.Addr().String(), "GRITWARD_TOKEN", token)
}

func rollFolder() string {
	return filepath.Join(filepath.Dir(settings.ClientFile()), "rollcall", "marrowdale")
}

// keepCalls lays calls with these marks where the client keeps what is not sent.
func keepCalls(t *testing.T, calls ...[]string) {
	t.Helper()
	for i, ids := range calls {
		request := &pb.RecordMarksRequest{Parent: fakeRide}
		for _, id := range ids {
			request.Marks = append(request.Marks, &pb.Mark{Name: fakeRide + "/marks/" + id, Member: "clubs/marrowdale/members/ida", What: pb.Mark_HOME})
		}
		content, err := protojson.Marshal(request)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll(filepath.Join(rollFolder(), "unsent"), 0o700); err != nil {
			t.Fatal(err)
		}
		writeTest(t, filepath.Join(rollFolder(), "unsent", fmt.Sprintf("%d.json", i)), string(content))
	}
}

// marksIn are the marks in the files of a folder beside the roll calls that are kept: files by spaces.
func marksIn(t *testing.T, folder string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(rollFolder(), folder, "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, file := range files {
		content, err := os.ReadFile(file)
		request, ids := &pb.RecordMarksRequest{}, []string(nil)
		if err != nil || protojson.Unmarshal(content, request) != nil || request.Parent != fakeRide {
			t.Fatalf("%s: %v: %s", file, err, content)
		}
		for _, mark := range request.Marks {
			ids = append(ids, names.Last(mark.Name))
		}
		all = append(all, strings.Join(ids, ","))
	}
	return strings.Join(all, " ")
}

// TestKeptMarks: whatever a server answers, only a mark that it refuses for what it says is put aside; every other one stays
// and goes when it may. (The codes are all those of gRPC, google.golang.org/grpc/codes.)
func TestKeptMarks(t *testing.T) {
	words := map[codes.Code]string{
		codes.Canceled: "the command was interrupted", codes.Unavailable: "the server cannot be reached",
		codes.DeadlineExceeded: "the server cannot be reached", codes.ResourceExhausted: "the server takes no more for now",
		codes.Unauthenticated: "this device is not signed in", codes.PermissionDenied: "you may not record them now",
	}
	forGood := []codes.Code{codes.InvalidArgument, codes.FailedPrecondition, codes.AlreadyExists, codes.NotFound, codes.OutOfRange}
	for code := codes.Canceled; code <= codes.Unauthenticated; code++ {
		t.Run(code.String(), func(t *testing.T) {
			fake := &fakeRolls{refuse: map[string]codes.Code{"b": code}}
			fake.serve(t)
			keepCalls(t, []string{"a", "b"}, []string{"c"})
			got := run(t, "", "--wait", "0s", "ride", "sync", fakeRide)
			unsent, aside, taken := "a,b c", "", ""
			exit, said := cli.ExitFailed, "0 kept marks sent, 3 not yet: "+words[code]
			switch {
			case slices.Contains(forGood, code):
				unsent, aside, taken, exit, said = "", "b", "a c", cli.ExitOK, "2 kept marks sent\n"
			case code == codes.PermissionDenied: // those of another ride go
				unsent, taken, exit, said = "a,b", "c", cli.ExitOK, "1 kept mark sent, 2 not yet: "+words[code]
			case words[code] == "":
				said += "the server failed at them"
			}
			if got.code != exit || !strings.Contains(got.err, said) || strings.Contains(got.err, "refused a kept mark") != (aside != "") {
				t.Errorf("exit code %d, %q", got.code, got.err)
			}
			if exit == cli.ExitOK && strings.Contains(got.out, "none is unsent") != (unsent == "") {
				t.Errorf("%q", got.out)
			}
			if gotten := strings.Join(fake.taken, " "); marksIn(t, "unsent") != unsent || marksIn(t, "refused") != aside || gotten != taken {
				t.Errorf("unsent %q, aside %q, taken %q", marksIn(t, "unsent"), marksIn(t, "refused"), gotten)
			}
			fake.mu.Lock()
			fake.refuse = nil
			fake.mu.Unlock()
			if got := run(t, "", "ride", "sync", fakeRide); got.code != cli.ExitOK || marksIn(t, "unsent") != "" {
				t.Errorf("later: %q, unsent %q", got.err, marksIn(t, "unsent"))
			}
			for _, id := range []string{"a", "b", "c"} {
				if (aside == id) == slices.Contains(fake.taken, id) {
					t.Errorf("%s: taken %v, aside %q", id, fake.taken, aside)
				}
			}
		})
	}
}

// TestKeptMarksSplit: of a call that is sent mark by mark and breaks off, what is not done yet stays.
func TestKeptMarksSplit(t *testing.T) {
	fake := &fakeRolls{refuse: map[string]codes.Code{"b": codes.InvalidArgument, "d": codes.Aborted}}
	fake.serve(t)
	keepCalls(t, []string{"a", "b", "c", "d", "e"}, []string{"f"})
	got := run(t, "", "--wait", "0s", "ride", "sync", fakeRide)
	if got.code != cli.ExitFailed || !strings.Contains(got.err, "2 kept marks sent, 3 not yet: the server failed at them") {
		t.Errorf("exit code %d, %q", got.code, got.err)
	}
	if marksIn(t, "unsent") != "d,e f" || marksIn(t, "refused") != "b" || strings.Join(fake.taken, "") != "ac" {
		t.Errorf("unsent %q, aside %q, taken %q", marksIn(t, "unsent"), marksIn(t, "refused"), fake.taken)
	}
	// Where nothing can be put aside, nothing goes away.
	fake.refuse = map[string]codes.Code{"d": codes.NotFound}
	if err := os.Rename(filepath.Join(rollFolder(), "refused"), filepath.Join(rollFolder(), "away")); err != nil {
		t.Fatal(err)
	}
	writeTest(t, filepath.Join(rollFolder(), "refused"), "not a folder")
	got = run(t, "", "ride", "sync", fakeRide)
	if got.code != cli.ExitFailed || !strings.Contains(got.err, "could not be put aside") || marksIn(t, "unsent") != "d,e f" {
		t.Errorf("exit code %d, %q; unsent %q", got.code, got.err, marksIn(t, "unsent"))
	}
}
