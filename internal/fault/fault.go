// Package fault has the one error type that crosses the wire: a reason from the protocol's list, what is wrong in
// words, where, and what to do next. Errors of any other type are faults of the server: their text stays in its log.
package fault

import (
	"errors"
	"fmt"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// Error is a refusal that a person can do something about.
type Error struct {
	Reason  pb.Reason
	Message string
	// Fields says which fields of the request are not as they must be.
	Fields []Field
	// Limits says which rules or limits stand in the way, for CALL_OFF and the like.
	Limits []Limit
	// RequestID is that of the call, in an error that came over the wire.
	RequestID string
	Cause     error
}

// Field is one field of a request that is not as it must be.
type Field struct{ Path, What string }

// Limit is one rule or limit that stands in the way.
type Limit struct{ ID, What string }

// Error joins message and fields on one line.
func (e *Error) Error() string {
	parts := []string{}
	if e.Message != "" {
		parts = append(parts, e.Message)
	}
	for _, field := range e.Fields {
		parts = append(parts, field.Path+": "+field.What)
	}
	for _, limit := range e.Limits {
		parts = append(parts, limit.What)
	}
	return strings.Join(parts, "; ")
}

// Unwrap gives the cause, for the log.
func (e *Error) Unwrap() error { return e.Cause }

// New makes an error with a formatted message.
func New(reason pb.Reason, format string, args ...any) *Error {
	return &Error{Reason: reason, Message: fmt.Sprintf(format, args...)}
}

// NotAsItMustBe is the message of a FIELD_INVALID whose fields say it all.
const NotAsItMustBe = "the request is not as it must be"

// Invalid makes a FIELD_INVALID about one field.
func Invalid(path, format string, args ...any) *Error {
	return &Error{
		Reason:  pb.Reason_FIELD_INVALID,
		Message: NotAsItMustBe,
		Fields:  []Field{{Path: path, What: fmt.Sprintf(format, args...)}},
	}
}

// NotFound says that a record is not there.
func NotFound(resource string) *Error {
	return New(pb.Reason_NOT_FOUND, "there is no %s", resource)
}

// Is tells whether err is a fault of that reason.
func Is(err error, reason pb.Reason) bool {
	var fault *Error
	return errors.As(err, &fault) && fault.Reason == reason
}
