package fault_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/testing/protocmp"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// wire is a server on a loopback socket that answers every call with one error.
type wire struct {
	pb.UnimplementedRideServiceServer
	fails  atomic.Pointer[error]
	client pb.RideServiceClient
}

func (w *wire) GetRide(context.Context, *pb.GetRideRequest) (*pb.Ride, error) {
	return nil, fault.Status(*w.fails.Load()).Err()
}

func dial(t *testing.T) *wire {
	t.Helper()
	w, server := &wire{}, grpc.NewServer()
	pb.RegisterRideServiceServer(server, w)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	connection, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	w.client = pb.NewRideServiceClient(connection)
	t.Cleanup(func() {
		server.Stop()
		if err := errors.Join(connection.Close(), <-served); err != nil {
			t.Error(err)
		}
	})
	return w
}

// send is what a client gets when the server fails with err.
func (w *wire) send(t *testing.T, err error) *status.Status {
	t.Helper()
	w.fails.Store(&err)
	_, got := w.client.GetRide(t.Context(), &pb.GetRideRequest{})
	made, ok := status.FromError(got)
	if !ok || got == nil {
		t.Fatalf("%v came over as %v", err, got)
	}
	return made
}

// wantCode says which canonical code a caller may expect for a reason: by the words for each code in google/rpc/code.proto.
func wantCode() map[pb.Reason]codes.Code {
	return map[pb.Reason]codes.Code{
		pb.Reason_REASON_UNSPECIFIED:   codes.Unknown,
		pb.Reason_FIELD_INVALID:        codes.InvalidArgument,
		pb.Reason_NOT_FOUND:            codes.NotFound,
		pb.Reason_ALREADY_EXISTS:       codes.AlreadyExists,
		pb.Reason_NOT_SIGNED_IN:        codes.Unauthenticated,
		pb.Reason_NOT_ALLOWED:          codes.PermissionDenied,
		pb.Reason_CHANGED_MEANWHILE:    codes.Aborted,
		pb.Reason_NO_POLICY:            codes.FailedPrecondition,
		pb.Reason_POLICY_INVALID:       codes.InvalidArgument,
		pb.Reason_ROUTE_INVALID:        codes.InvalidArgument,
		pb.Reason_RIDE_OVER:            codes.FailedPrecondition,
		pb.Reason_WRONG_STATE:          codes.FailedPrecondition,
		pb.Reason_CIVIL_TIME:           codes.InvalidArgument,
		pb.Reason_CALL_OFF:             codes.FailedPrecondition,
		pb.Reason_REQUEST_ID_REUSED:    codes.AlreadyExists,
		pb.Reason_UNAVAILABLE:          codes.Unavailable,
		pb.Reason_INTERNAL:             codes.Internal,
		pb.Reason_INVITE_NOT_GOOD:      codes.PermissionDenied,
		pb.Reason_FORECAST_INVALID:     codes.InvalidArgument,
		pb.Reason_FORECAST_STALE:       codes.FailedPrecondition,
		pb.Reason_FORECAST_SHORT:       codes.FailedPrecondition,
		pb.Reason_NO_WEATHER_SERVICE:   codes.FailedPrecondition,
		pb.Reason_SIGNUP_CLOSED:        codes.FailedPrecondition,
		pb.Reason_HOME_TOO_SOON:        codes.InvalidArgument,
		pb.Reason_CONTACTS_SHUT:        codes.FailedPrecondition,
		pb.Reason_BUSY:                 codes.Unavailable,
		pb.Reason_STORE_DAMAGED:        codes.Unavailable,
		pb.Reason_STORE_FULL:           codes.Unavailable,
		pb.Reason_TOO_MANY_CALLS:       codes.ResourceExhausted,
		pb.Reason_TOO_MANY_SIGN_INS:    codes.ResourceExhausted,
		pb.Reason_TOO_MANY_CONNECTIONS: codes.ResourceExhausted,
		pb.Reason_MESSAGE_TOO_LARGE:    codes.ResourceExhausted,
		pb.Reason_LAST_SECRETARY:       codes.FailedPrecondition,
		pb.Reason_HELD_BIKE:            codes.FailedPrecondition,
	}
}

// Every reason of the protocol has its code and comes over a socket with all its details.
func TestEveryReasonCrossesTheWire(t *testing.T) {
	w, want := dial(t), wantCode()
	values := pb.Reason(0).Descriptor().Values()
	for i := range values.Len() {
		reason := pb.Reason(values.Get(i).Number())
		t.Run(reason.String(), func(t *testing.T) {
			code, listed := want[reason]
			if !listed {
				t.Fatal("this test does not know the reason: say which code it has, here and in the table")
			}
			got := w.send(t, fmt.Errorf("ride: %w", &fault.Error{
				Reason: reason, Message: "what, and what to do: ä",
				Fields: []fault.Field{{"ride.title", "is too long"}, {"ride.groups[1].pace_kmh", "is below 8"}},
				Limits: []fault.Limit{{"gust_above", "gusts of 82 km/h, over 70"}},
				Cause:  errors.New("secret"),
			}))
			if got.Code() != code || got.Message() != "what, and what to do: ä" {
				t.Errorf("got %s %q, want %s", got.Code(), got.Message(), code)
			}
			details := []any{
				&errdetails.ErrorInfo{Reason: string(values.Get(i).Name()), Domain: "gritward"},
				&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
					{Field: "ride.title", Description: "is too long"},
					{Field: "ride.groups[1].pace_kmh", Description: "is below 8"}}},
				&errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{
					{Type: reason.String(), Subject: "gust_above", Description: "gusts of 82 km/h, over 70"}}},
			}
			if diff := cmp.Diff(details, got.Details(), protocmp.Transform()); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestOnlyTheDetailsThatThereAre(t *testing.T) {
	got := dial(t).send(t, fault.NotFound("clubs/a"))
	want := []any{&errdetails.ErrorInfo{Reason: "NOT_FOUND", Domain: "gritward"}}
	if diff := cmp.Diff(want, got.Details(), protocmp.Transform()); diff != "" || got.Message() != "there is no clubs/a" {
		t.Errorf("%q %s", got.Message(), diff)
	}
}

func TestStatusOfOtherErrors(t *testing.T) {
	w := dial(t)
	const secret = "token 1234 in /srv/club.db"
	wrap := func(err error) error { return fmt.Errorf("%s: %w", secret, err) }
	for _, c := range []struct {
		name    string
		err     error
		code    codes.Code
		message string
		reason  string
	}{
		{"unknown", errors.New(secret), codes.Internal, "the server failed; its log says more", "INTERNAL"},
		{"unlisted reason", &fault.Error{Reason: 9999, Message: "m"}, codes.Internal, "m", "9999"},
		{"cancelled", context.Canceled, codes.Canceled, "context canceled", ""},
		{"cancelled, wrapped", wrap(context.Canceled), codes.Canceled, "context canceled", ""},
		{"deadline", context.DeadlineExceeded, codes.DeadlineExceeded, "context deadline exceeded", ""},
		{"deadline, wrapped", wrap(context.DeadlineExceeded), codes.DeadlineExceeded, "context deadline exceeded", ""},
		{"fault, wrapped twice", wrap(wrap(fault.NotFound("x"))), codes.NotFound, "there is no x", "NOT_FOUND"},
		{"fault, joined", errors.Join(errors.New(secret), fault.NotFound("x")), codes.NotFound, "there is no x", "NOT_FOUND"},
		{"fault because of a deadline", &fault.Error{Reason: pb.Reason_UNAVAILABLE, Message: "later", Cause: context.DeadlineExceeded},
			codes.Unavailable, "later", "UNAVAILABLE"},
		{"status", status.Error(codes.ResourceExhausted, "slower"), codes.ResourceExhausted, "slower", ""},
		{"status, wrapped", wrap(status.Error(codes.ResourceExhausted, "slower")), codes.ResourceExhausted, "slower", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, reason := w.send(t, c.err), ""
			for _, detail := range got.Details() {
				if info, ok := detail.(*errdetails.ErrorInfo); ok {
					reason = info.Reason
				}
			}
			if got.Code() != c.code || got.Message() != c.message || reason != c.reason {
				t.Errorf("got %s %q %q, want %s %q %q", got.Code(), got.Message(), reason, c.code, c.message, c.reason)
			}
			if strings.Contains(got.String(), secret) {
				t.Errorf("text of the server's own went out: %s", got)
			}
		})
	}
	if fault.Status(nil) != nil {
		t.Error("no error became a status")
	}
}

// Bytes that are not UTF-8 come over as the replacement character, with reason and fields.
func TestTextThatIsNotUTF8(t *testing.T) {
	got := dial(t).send(t, &fault.Error{
		Reason: pb.Reason_POLICY_INVALID, Message: "bad \xff",
		Fields: []fault.Field{{"win\xfeter.yaml:3:1", "no key \xc3"}}, Limits: []fault.Limit{{"a\xff", "b\xff"}}})
	want := []any{
		&errdetails.ErrorInfo{Reason: "POLICY_INVALID", Domain: "gritward"},
		&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
			{Field: "win\uFFFDter.yaml:3:1", Description: "no key \uFFFD"}}},
		&errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{
			{Type: "POLICY_INVALID", Subject: "a\uFFFD", Description: "b\uFFFD"}}},
	}
	if diff := cmp.Diff(want, got.Details(), protocmp.Transform()); diff != "" || got.Message() != "bad \uFFFD" {
		t.Errorf("%q %s", got.Message(), diff)
	}
}

// TestManyFields: of very many fields the first are told, and how many there are.
func TestManyFields(t *testing.T) {
	wrong := &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: "not as it must be"}
	for i := range 3000 {
		wrong.Fields = append(wrong.Fields, fault.Field{Path: fmt.Sprintf("marks[%d]", i), What: "is wrong"})
	}
	made := fault.Status(wrong)
	told := 0
	for _, detail := range made.Details() {
		if bad, ok := detail.(*errdetails.BadRequest); ok {
			told = len(bad.FieldViolations)
		}
	}
	if made.Message() != "not as it must be (the first 100 of 3000 are told)" || told != 100 || len(wrong.Fields) != 3000 {
		t.Errorf("%q, %d fields", made.Message(), told)
	}
}
