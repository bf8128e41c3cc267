package server_test

import (
	"strings"
	"testing"
	"time"

	pb "gritward/proto/gritward/v1"
)

// TestKnown: who was let in a moment ago is let in by what is so now, and the day on which the device called is written down each day of
// the club's zone, also where the clock was put back.
func TestKnown(t *testing.T) {
	w := newWorld(t)
	member := w.member("Ada", nil)
	calls := func(what, refused string) *pb.WhoAmIResponse {
		t.Helper()
		var is *pb.WhoAmIResponse
		for range 3 {
			var err error
			is, err = w.clubs.WhoAmI(w.as("ada"), &pb.WhoAmIRequest{})
			if refused == "" && err != nil || refused != "" && !strings.Contains(told(err), refused) {
				t.Errorf("%s: %s", what, told(err))
			}
		}
		return is
	}
	w.setClock(time.Date(2026, 7, 10, 22, 59, 0, 0, time.UTC)) // in London an hour later, by summer time
	for _, day := range []struct {
		later time.Duration
		want  string
	}{{0, "2026-07-10"}, {time.Minute, "2026-07-11"}, {24*time.Hour - time.Second, "2026-07-11"}, {time.Second, "2026-07-12"}, {-2 * time.Hour, "2026-07-11"}} {
		w.setClock(w.clock().Add(day.later))
		if got := calls("by day", "").Device.LastUsedOn; got != day.want {
			t.Errorf("at %v the device called last on %s, want %s", w.clock(), got, day.want)
		}
	}
	if err := w.suspendAs("sec", "ada"); err != nil {
		t.Fatal(told(err))
	}
	calls("suspended", "NOT_ALLOWED")
	if err := w.reinstate("ada"); err != nil {
		t.Fatal(told(err))
	}
	device := calls("let in again", "").Device
	if err := w.rolesAs("sec", "ada", pb.Role_MEMBER, pb.Role_LEADER); err != nil {
		t.Fatal(told(err))
	}
	if got := calls("with another role", "").Member; len(got.Roles) != 2 || got.Name != member.Name {
		t.Errorf("%v", got)
	}
	if _, err := w.clubs.RevokeDevice(w.as("sec"), &pb.RevokeDeviceRequest{Name: device.Name}); err != nil {
		t.Fatal(told(err))
	}
	calls("its device shut out", "NOT_SIGNED_IN")
}
