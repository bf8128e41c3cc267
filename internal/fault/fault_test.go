package fault_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

func TestError(t *testing.T) {
	for _, c := range []struct {
		name string
		err  *fault.Error
		want string
	}{
		{"message", fault.New(pb.Reason_WRONG_STATE, "%d of %s", 3, "%d"), "3 of %d"},
		{"field", fault.Invalid("ride.title", "%q is too long", "x"), `the request is not as it must be; ride.title: "x" is too long`},
		{"not found", fault.NotFound("clubs/a"), "there is no clubs/a"},
		{"all", &fault.Error{Message: "m", Fields: []fault.Field{{"a", "b"}, {"c", "d"}}, Limits: []fault.Limit{{"id", "gusts"}}},
			"m; a: b; c: d; gusts"},
		{"fields only", &fault.Error{Fields: []fault.Field{{"a", "b"}}}, "a: b"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.err.Error(); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	if got := fault.Invalid("a", "b").Reason; got != pb.Reason_FIELD_INVALID {
		t.Errorf("Invalid makes a %s", got)
	}
}

func TestIs(t *testing.T) {
	missing := fault.NotFound("x")
	for _, c := range []struct {
		err  error
		want bool
	}{
		{nil, false},
		{errors.New("x"), false},
		{missing, true},
		{fault.New(pb.Reason_INTERNAL, "x"), false},
		{fmt.Errorf("a: %w", fmt.Errorf("b: %w", missing)), true},
		{errors.Join(errors.New("x"), missing), true},
		{fmt.Errorf("%s", missing), false},
	} {
		if got := fault.Is(c.err, pb.Reason_NOT_FOUND); got != c.want {
			t.Errorf("Is(%v) = %t", c.err, got)
		}
	}
}

func TestCause(t *testing.T) {
	cause := errors.New("the disk is full")
	err := &fault.Error{Reason: pb.Reason_UNAVAILABLE, Message: "try again later", Cause: cause}
	if !errors.Is(err, cause) || strings.Contains(err.Error(), "disk") {
		t.Errorf("the cause is not there for the log alone: %v", err)
	}
}
