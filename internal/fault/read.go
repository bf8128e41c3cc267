package fault

import (
	"errors"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	pb "gritward/proto/gritward/v1"
)

// Read is what came over the wire as an Error again: the reverse of Status. An answer that is not of the service's making,
// and any other error, has the reason REASON_UNSPECIFIED. Nil for nil.
func Read(err error) *Error {
	var carrier interface{ GRPCStatus() *status.Status }
	switch {
	case err == nil:
		return nil
	case !errors.As(err, &carrier):
		return &Error{Message: err.Error(), Cause: err}
	}
	made := carrier.GRPCStatus()
	read := &Error{Message: made.Message(), Cause: err}
	for _, detail := range made.Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			if d.Domain == Domain {
				read.Reason = pb.Reason(pb.Reason_value[d.Reason])
			}
		case *errdetails.RequestInfo:
			read.RequestID = d.RequestId
		case *errdetails.BadRequest:
			for _, field := range d.FieldViolations {
				read.Fields = append(read.Fields, Field{field.Field, field.Description})
			}
		case *errdetails.PreconditionFailure:
			for _, limit := range d.Violations {
				read.Limits = append(read.Limits, Limit{limit.Subject, limit.Description})
			}
		}
	}
	return read
}
