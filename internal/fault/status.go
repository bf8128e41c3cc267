package fault

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	pb "gritward/proto/gritward/v1"
)

// Domain stands in google.rpc.ErrorInfo.domain of every error of this service.
const Domain = "gritward"

// internalMessage is all that a caller hears of a fault of the server.
const internalMessage = "the server failed; its log says more"

// mostTold is how many fields and limits an error tells: a list of a thousand may be wrong in each, and an error goes over the
// wire where there is little room, in what follows the answer.
const mostTold = 100

// codeOf is the only table between reasons and gRPC codes.
var codeOf = map[pb.Reason]codes.Code{
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
	pb.Reason_HOME_TOO_SOON:        codes.InvalidArgument,
	pb.Reason_SIGNUP_CLOSED:        codes.FailedPrecondition,
	pb.Reason_TOO_MANY_CALLS:       codes.ResourceExhausted,
	pb.Reason_TOO_MANY_SIGN_INS:    codes.ResourceExhausted,
	pb.Reason_TOO_MANY_CONNECTIONS: codes.ResourceExhausted,
	pb.Reason_MESSAGE_TOO_LARGE:    codes.ResourceExhausted,
	pb.Reason_LAST_SECRETARY:       codes.FailedPrecondition,
	pb.Reason_HELD_BIKE:            codes.FailedPrecondition,
	pb.Reason_CONTACTS_SHUT:        codes.FailedPrecondition,
	pb.Reason_STORE_DAMAGED:        codes.Unavailable, // it may be restored, and a client keeps marks until then
	pb.Reason_STORE_FULL:           codes.Unavailable, // as above: room can be made
	pb.Reason_BUSY:                 codes.Unavailable, // so that a client keeps marks of the roll call and sends them again
}

// Code is the gRPC code of a reason; Internal for a reason that is not in the protocol's list.
func Code(reason pb.Reason) codes.Code {
	if code, known := codeOf[reason]; known {
		return code
	}
	return codes.Internal // the table's zero is OK, which an error must never become
}

// Status turns any error into what goes over the wire. A fault keeps its message and details; an ended context keeps
// its code; a status stays as it is; anything else becomes INTERNAL. What was wrapped around any of these stays here.
func Status(err error) *status.Status {
	var fault *Error
	var made interface{ GRPCStatus() *status.Status }
	switch {
	case err == nil:
		return nil
	case errors.As(err, &fault):
		return withDetails(fault)
	case errors.Is(err, context.Canceled):
		return status.FromContextError(context.Canceled)
	case errors.Is(err, context.DeadlineExceeded):
		return status.FromContextError(context.DeadlineExceeded)
	case errors.As(err, &made) && made.GRPCStatus().Code() != codes.OK:
		return made.GRPCStatus()
	}
	return withDetails(New(pb.Reason_INTERNAL, internalMessage))
}

// withDetails puts a fault into a status with the standard details of google.rpc.
func withDetails(fault *Error) *status.Status {
	details := []protoadapt.MessageV1{&errdetails.ErrorInfo{Reason: fault.Reason.String(), Domain: Domain}}
	message, fields, limits := fault.Message, fault.Fields, fault.Limits
	if all := max(len(fields), len(limits)); all > mostTold {
		message = fmt.Sprintf("%s (the first %d of %d are told)", message, mostTold, all)
		fields, limits = fields[:min(len(fields), mostTold)], limits[:min(len(limits), mostTold)]
	}
	if len(fields) > 0 {
		bad := &errdetails.BadRequest{}
		for _, field := range fields {
			bad.FieldViolations = append(bad.FieldViolations,
				&errdetails.BadRequest_FieldViolation{Field: valid(field.Path), Description: valid(field.What)})
		}
		details = append(details, bad)
	}
	if len(limits) > 0 {
		failure := &errdetails.PreconditionFailure{}
		for _, limit := range limits {
			failure.Violations = append(failure.Violations, &errdetails.PreconditionFailure_Violation{
				Type: fault.Reason.String(), Subject: valid(limit.ID), Description: valid(limit.What)})
		}
		details = append(details, failure)
	}
	made, err := status.New(Code(fault.Reason), valid(message)).WithDetails(details...)
	if err != nil {
		return status.New(codes.Internal, internalMessage)
	}
	return made
}

// valid keeps text that a protocol buffer can carry: one byte that is not UTF-8 would cost the error all its details.
func valid(text string) string { return strings.ToValidUTF8(text, "\uFFFD") }
