package server_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// shared reads what a link opens, as nobody, with the bytes of the answer.
func (w *world) shared(key string) (*pb.SharedRoster, []byte, error) {
	w.t.Helper()
	answer, err := w.rides.ReadSharedRoster(w.ctx, &pb.ReadSharedRosterRequest{Key: key})
	data, marshalErr := proto.Marshal(answer)
	if marshalErr != nil {
		w.t.Fatal(marshalErr)
	}
	return answer, data, err
}

// agree has a member agree that the name can be seen without signing in, or not.
func (w *world) agree(id string, agrees bool) {
	w.t.Helper()
	_, err := w.clubs.UpdateMember(w.as(id), &pb.UpdateMemberRequest{UpdateMask: mask("name_public"),
		Member: &pb.Member{Name: club + "/members/" + id, NamePublic: agrees}})
	if err != nil {
		w.t.Fatal(told(err))
	}
}

// sharePlace is a published ride with somebody of every kind, each of whose names is told apart from every other word.
func sharePlace(t *testing.T) (w *world, ride *pb.Ride, key string) {
	w = newWorld(t)
	w.member("Leamarsh", &pb.Member{MayLead: true}, pb.Role_LEADER)
	w.member("Benfield", &pb.Member{MayMarkBack: true})
	w.member("Adawick", &pb.Member{MayLead: true})
	w.member("Boothby", &pb.Member{MayMarkBack: true})
	w.member("Coldwell", nil)
	w.member("Miastone", nil)
	w.member("Juniper", &pb.Member{Junior: true, Guardian: club + "/members/miastone"})
	for _, id := range []string{"leamarsh", "adawick", "boothby", "coldwell", "juniper"} {
		w.agree(id, true)
	}
	planned := sunday()
	planned.LeaderPhone, planned.Stops[0].Title = "07700 900123", "Barn"
	ride = w.ride("leamarsh", planned)
	for _, id := range []string{"leamarsh", "benfield", "adawick", "boothby", "coldwell", "miastone", "juniper"} {
		facts := bike("teal tourer of "+id, 300)
		if id == "coldwell" {
			facts.Guards.Rear.Flap = proto.Bool(false) // sent to the back
		}
		if _, err := w.join(id, ride.Name, w.declare(id, facts), &pb.Signup{Party: map[string]string{"miastone": "us", "juniper": "us"}[id]}); err != nil {
			t.Fatal(told(err))
		}
	}
	if _, err := w.rides.AddGuest(w.as("leamarsh"), &pb.AddGuestRequest{Parent: ride.Name, DisplayName: "Gusthorpe", Facts: bike("lent", 300)}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.rides.ShareRoster(w.as("leamarsh"), &pb.ShareRosterRequest{Parent: ride.Name}); !strings.Contains(told(err), "WRONG_STATE") {
		t.Fatalf("shared before it is published: %s", told(err))
	}
	w.publish("leamarsh", ride.Name)
	share, err := w.rides.ShareRoster(w.as("leamarsh"), &pb.ShareRosterRequest{Parent: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	return w, ride, share.Key
}

// TestSharedRoster holds the bytes that go out to strangers: names of those who agreed, and nothing else of anybody.
func TestSharedRoster(t *testing.T) {
	w, ride, key := sharePlace(t)
	answer, data, err := w.shared(key)
	if err != nil {
		t.Fatal(told(err))
	}
	for _, there := range []string{"Leamarsh", "Adawick", "Boothby", "Coldwell", "Four Becks", "The weighbridge", "Barn", "FENWICK"} {
		if !bytes.Contains(bytes.ToUpper(data), []byte(strings.ToUpper(there))) {
			t.Errorf("%s is not told", there)
		}
	}
	for _, never := range []string{"Benfield", "Miastone", "Juniper", "Gusthorpe", "members/", "rides/", "bike", "teal", "lent", "07700", "guard", "junior", "guest", "sec"} {
		said := strings.ToLower(string(data))
		if never == "bike" { // general advice speaks of bikes
			for _, words := range []string{"on every bike", "each rider certified the bike", "bikes to watch", "the bike"} {
				said = strings.ReplaceAll(said, words, "")
			}
		}
		if never == "sec" {
			said = strings.ReplaceAll(said, "section", "")
		}
		if strings.Contains(said, strings.ToLower(never)) {
			t.Errorf("%q is told: %q", never, around(said, strings.ToLower(never)))
		}
	}
	if len(answer.Route.LatDeg) == 0 || len(answer.Route.Climbs) == 0 || len(answer.Route.AtDistanceM) != len(answer.Route.LatDeg) {
		t.Errorf("the route is not told: %d points, %d climbs", len(answer.Route.LatDeg), len(answer.Route.Climbs))
	}
	told, err := w.rides.GetRosterShare(w.as("miastone"), &pb.GetRosterShareRequest{Parent: ride.Name})
	if err != nil || told.Named != 4 || told.Riders != 8 || told.Key != "" || told.CreatedAt == nil {
		t.Errorf("members are told %v %v", told, err)
	}
	w.agree("boothby", false)
	if _, data, _ = w.shared(key); bytes.Contains(data, []byte("Boothby")) {
		t.Error("a name that was taken back is told")
	}
	w.suspend("adawick")
	if _, data, _ = w.shared(key); bytes.Contains(data, []byte("Adawick")) {
		t.Error("a suspended member is named")
	}
	stored := w.bytesKept()
	if secret := key[strings.Index(key, ".")+1:]; strings.Contains(string(stored), secret) || strings.Contains(w.log.String(), secret) {
		t.Error("the key stands in the store or in the log")
	}
}

// around is what stands around a word.
func around(text, word string) string {
	at := strings.Index(text, word)
	return text[max(0, at-40):min(len(text), at+len(word)+40)]
}

// TestShareEnds follows a link to its end, in each way that it can end.
func TestShareEnds(t *testing.T) {
	w, ride, key := sharePlace(t)
	for _, bad := range []string{"x", key[:len(key)-1], key + "A", "elsewhere" + key[strings.Index(key, "."):], "../fenwick.x", strings.Repeat("a", 200), w.tokens["sec"]} {
		if _, _, err := w.shared(bad); !strings.Contains(told(err), "NOT_FOUND") {
			t.Errorf("%.30q opens something: %s", bad, told(err))
		}
	}
	if _, err := w.rides.ShareRoster(w.as("benfield"), &pb.ShareRosterRequest{Parent: ride.Name}); !strings.Contains(told(err), "NOT_ALLOWED") {
		t.Errorf("a member shares: %s", told(err))
	}
	again, err := w.rides.ShareRoster(w.as("sec"), &pb.ShareRosterRequest{Parent: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	if _, _, err := w.shared(key); !strings.Contains(told(err), "NOT_FOUND") {
		t.Errorf("the link before still opens: %s", told(err))
	}
	if _, err := w.change("leamarsh", &pb.Ride{Name: ride.Name, MeetingPoint: "The station"}, "meeting_point"); err != nil {
		t.Fatal(told(err))
	}
	if shared, _, err := w.shared(again.Key); err != nil || !shared.ChangedSince {
		t.Errorf("that the ride changed is not told: %v %s", shared.GetChangedSince(), told(err))
	}
	const reason = "Imke broke an arm"
	if _, err := w.rides.CallOffRide(w.as("leamarsh"), &pb.CallOffRideRequest{Name: ride.Name, Reason: reason}); err != nil {
		t.Fatal(told(err))
	}
	shared, data, err := w.shared(again.Key)
	if err != nil || shared.Roster.Ride.State != pb.Ride_CALLED_OFF || bytes.Contains(data, []byte("Imke")) {
		t.Errorf("called off: %v, the reason told %t, %s", shared.GetRoster().GetRide().GetState(), bytes.Contains(data, []byte("Imke")), told(err))
	}
	w.setClock(ride.StartAt.AsTime().Add(7 * 24 * time.Hour))
	if _, _, err := w.shared(again.Key); err != nil {
		t.Errorf("to the second it is good: %s", told(err))
	}
	w.setClock(ride.StartAt.AsTime().Add(7*24*time.Hour + time.Second))
	if _, _, err := w.shared(again.Key); !strings.Contains(told(err), "NOT_FOUND") {
		t.Errorf("after a week it opens: %s", told(err))
	}
	if _, err := w.rides.ShareRoster(w.as("leamarsh"), &pb.ShareRosterRequest{Parent: ride.Name}); !strings.Contains(told(err), "RIDE_OVER") {
		t.Errorf("after a week it is shared: %s", told(err))
	}
	if _, err := w.rides.UnshareRoster(w.as("leamarsh"), &pb.UnshareRosterRequest{Parent: ride.Name}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.rides.UnshareRoster(w.as("leamarsh"), &pb.UnshareRosterRequest{Parent: ride.Name}); !strings.Contains(told(err), "WRONG_STATE") {
		t.Errorf("taken away twice: %s", told(err))
	}
}
