package web

import (
	"net/url"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// FuzzFill fills requests in from forms of any kind: no form makes it panic or grow beyond what it says, what cannot be read is
// told by field, and the same form makes the same message.
func FuzzFill(f *testing.F) {
	for _, form := range []string{
		"facts.lights[0].runtime_min=90&facts.guards.front.kind=FULL",
		"facts.lights[99].runtime_min=1&facts.lights[100].runtime_min=1&facts.lights[-1].runtime_min=1&facts.lights[01].runtime_min=1",
		"facts.lights=1&facts.guards=&facts.guards.front=FULL&facts.guards.front.kind.kind=1",
		"facts.lights[0].runtime_min=NaN&facts.lights[1].runtime_min=1e400&facts.lights[2].runtime_min=,5",
		"facts..=1&facts.[0]=1&.=&facts.lights[0=1&facts.lights]0[=1",
		"facts.guards.front.secure=maybe&facts.guards.front.kind=99",
	} {
		f.Add(form)
	}
	f.Fuzz(func(t *testing.T, form string) {
		values, err := url.ParseQuery(form)
		if err != nil {
			return
		}
		first, second := &pb.BikeFacts{}, &pb.BikeFacts{}
		said, again := fillIn(first, "facts", values), fillIn(second, "facts", values)
		if (said == nil) != (again == nil) || !proto.Equal(first, second) && said == nil {
			t.Errorf("one form was read in two ways: %v, %v", said, again)
		}
		if said != nil && !fault.Is(said, pb.Reason_FIELD_INVALID) {
			t.Errorf("a form was refused with %v", said)
		}
		if len(first.Lights) > maxListed {
			t.Errorf("%d lamps were made of one form", len(first.Lights))
		}
		if _, err := proto.Marshal(first); err != nil {
			t.Errorf("what was filled in cannot be sent: %v", err)
		}
	})
}
