package cli

import (
	"errors"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"gritward/internal/fault"
	"gritward/internal/settings"
	pb "gritward/proto/gritward/v1"
)

// refusal is what a server's error holds.
type refusal struct {
	reason  pb.Reason
	message string
	lines   []string // "path: what is wrong", or the limits in the way
}

// explain says, for a person, what went wrong, where, and what to do next; it ends with a new line.
func (a *app) explain(err error) string {
	var problems settings.Problems
	if errors.As(err, &problems) {
		lines := []string{"gritward: the settings are not as they must be"}
		for _, problem := range problems {
			lines = append(lines, "  "+clean(problem.Where+": "+problem.What))
		}
		return strings.Join(lines, "\n") + "\n"
	}
	var hint hinted
	errors.As(err, &hint)
	made, ok := grpcStatus(err)
	if !ok {
		return "gritward: " + cleanLines(err.Error()) + "\n"
	}
	if refused := a.refused.Load(); refused != nil && made.Code() == codes.Unavailable {
		return a.distrust(refused)
	}
	r := a.readRefusal(made)
	lines := []string{"gritward: " + clean(r.message)}
	if way := a.onTheWay(made); r.reason == pb.Reason_REASON_UNSPECIFIED && way != "" {
		lines = []string{"gritward: " + way, "  (" + clean(cause(r.message)) + ")"}
	}
	for _, line := range r.lines {
		lines = append(lines, "  "+clean(line))
	}
	if hint.what != "" {
		lines = append(lines, "  "+clean(hint.what))
	} else if next := a.next(r); next != "" && !strings.Contains(r.message, "gritward ") { // said already
		lines = append(lines, "  next: "+next)
	}
	if id := fault.Read(err).RequestID; id != "" && (r.reason == pb.Reason_INTERNAL || r.reason == pb.Reason_STORE_DAMAGED || r.reason == pb.Reason_STORE_FULL) {
		lines = append(lines, "  request: "+clean(id)+" (whoever runs the server finds it in the log)")
	}
	return a.named(strings.Join(lines, "\n")) + "\n"
}

// grpcStatus finds a server's answer, or a failure of the way to it, in an error.
func grpcStatus(err error) (*status.Status, bool) {
	var carrier interface{ GRPCStatus() *status.Status }
	if !errors.As(err, &carrier) {
		return nil, false
	}
	return carrier.GRPCStatus(), true
}

func (a *app) readRefusal(made *status.Status) refusal {
	r := refusal{message: told(made.Message()), reason: reasonOf(made)}
	for _, detail := range made.Details() {
		switch d := detail.(type) {
		case *errdetails.BadRequest:
			for _, field := range d.FieldViolations {
				r.lines = append(r.lines, a.fieldLine(field.Field, field.Description))
			}
		case *errdetails.PreconditionFailure:
			for _, limit := range d.Violations {
				r.lines = append(r.lines, limitLine(limit))
			}
		}
	}
	if r.message == "" {
		r.message = "the server answered " + made.Code().String()
	}
	return r
}

// limitLine tells a limit that stands in the way, with the group or rule that it is about. Limits for calling off say
// themselves what they are about.
func limitLine(limit *errdetails.PreconditionFailure_Violation) string {
	if limit.Subject == "call_off" || strings.Contains(limit.Subject, "/members/") { // its name stands in what it says
		return told(limit.Description)
	}
	return limit.Subject + ": " + told(limit.Description)
}

// reasonOf finds the reason that a server gave; none where the error is not of the service's making.
func reasonOf(made *status.Status) pb.Reason {
	for _, detail := range made.Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok && info.Domain == fault.Domain {
			return pb.Reason(pb.Reason_value[info.Reason])
		}
	}
	return pb.Reason_REASON_UNSPECIFIED
}

// cause is what is left of a failed connection's message without the way that it came.
func cause(message string) string {
	for _, way := range []string{"connection error: ", "desc = ", "transport: ", "Error while dialing: ", "dial tcp: ", "dial tcp ", "connect: "} {
		if _, after, found := strings.Cut(message, way); found {
			message = strings.Trim(after, `"`)
		}
	}
	return message
}

// isReason tells whether the server refused for that reason.
func isReason(err error, reason pb.Reason) bool {
	made, ok := grpcStatus(err)
	return ok && made.Code() != codes.OK && reasonOf(made) == reason
}

// hinted is a server's error for which the client knows what to do better than by its reason alone.
type hinted struct {
	what string
	err  error
}

// Error is the server's error; the hint is added by explain.
func (h hinted) Error() string { return h.err.Error() }

// Unwrap gives the server's error.
func (h hinted) Unwrap() error { return h.err }
