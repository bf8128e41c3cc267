package server_test

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/server"
	"gritward/internal/store"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

const day = 24 * time.Hour

// retention is a keeper as after a start of the server.
func (w *world) retention() *server.Retention {
	log := slog.New(slog.NewTextHandler(w.log, nil))
	return server.NewRetention(w.ledger, server.NewErasures("", w.ledger, log), log)
}

// lookAt has a keeper look at an instant, as after a start of the server.
func (w *world) lookAt(at time.Time) {
	w.t.Helper()
	w.setClock(at)
	if err := w.retention().Look(w.ctx); err != nil {
		w.t.Fatal(err)
	}
}

// keysNaming lists the kinds of the raw records that name a ride in key or value, with how many of each.
func (w *world) keysNaming(ride string) map[string]int {
	kinds := map[string]int{}
	id := names.Last(ride)
	err := w.store.View(w.ctx, "fenwick", func(tx store.Tx) error {
		return tx.Scan("", "", func(key string, value []byte) (bool, error) {
			if strings.Contains(key+"/", "/"+id+"/") || bytes.Contains(value, []byte(id)) {
				kind, _, _ := strings.Cut(key, "/")
				kinds[kind]++
			}
			return true, nil
		})
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return kinds
}

// entries counts the audit entries of the keeper, and gives the newest.
func (w *world) entries() (count int, what string) {
	for _, entry := range w.auditLog() {
		if entry.Method == "retention" {
			count++
			what = entry.What
		}
	}
	return count, what
}

// oldRide is a world with a ride of 2026 of which every kind of record is there, and one of 2027.
func oldRide(t *testing.T) (w *world, old, later *pb.Ride) {
	w = newWorldSending(t)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
	}
	people(w)
	_, err := w.clubs.UpdateMember(w.as("ben"), &pb.UpdateMemberRequest{Member: &pb.Member{Name: club + "/members/ben", Email: "ben@example.org"}, UpdateMask: mask("email")})
	must(err)
	must(w.giveContacts("ben", ofBen))
	ride := func(title, start string) *pb.Ride {
		asked := sunday()
		asked.Title, asked.StartLocal = title, start
		made := w.ride("lea", asked)
		for _, id := range []string{"lea", "ben", "ada", "bo"} {
			_, err := w.join(id, made.Name, club+"/members/"+id+"/bikes/bike-1", nil)
			must(err)
		}
		w.publish("lea", made.Name)
		w.setClock(made.StartAt.AsTime())
		w.marked(made, "on", "ben", pb.Mark_SIGNED_ON)
		_, err := w.readContacts("lea", made, "ben")
		must(err)
		_, err = w.starts.RecordLookOver(w.as("lea"), &pb.RecordLookOverRequest{Parent: made.Name, Member: club + "/members/ben", Note: "lamp flickers"})
		must(err)
		w.setClock(made.StartAt.AsTime().Add(5 * time.Hour))
		w.marked(made, "home", "ben", pb.Mark_HOME)
		must(w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			return tx.SaveRecordedTime(&pb.RecordedTime{Ride: made.Name, Group: "easy", Day: start[:10], TookMin: 208})
		}))
		w.setClock(made.StartAt.AsTime().Add(12 * time.Hour))
		must(w.overdue.Look(w.ctx))
		_, err = w.rolls.CloseRide(w.as("sec"), &pb.CloseRideRequest{Name: made.Name, Reason: "the others rode home alone"})
		must(err)
		return made
	}
	old = ride("The loop that was", "2026-12-13T10:30")
	w.setClock(time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC))
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		_, err := w.bikes.DeclareBike(w.as(id), &pb.DeclareBikeRequest{Parent: club + "/members/" + id, BikeId: "bike-1", Facts: bike("winter bike", 300)})
		must(err)
	}
	return w, old, ride("The loop that is", "2027-03-07T10:30")
}

// TestRetention looks day by day; what lies below the ride is gone from the raw keys, values and file, and the sums stand.
func TestRetention(t *testing.T) {
	w, old, later := oldRide(t)
	before, others := w.keysNaming(old.Name), w.keysNaming(later.Name)
	for _, kind := range []string{"ride", "route", "signup", "roster", "mark", "markno", "closing", "notice", "noticeto", "change", "letter", "reading", "lookover", "time", "ridden"} {
		if before[kind] == 0 {
			t.Errorf("no record of the kind %s names the ride: this test shows little", kind)
		}
	}
	kmOfBen := w.ridden("ben")
	end := old.StartAt.AsTime().Add(730 * day)
	w.lookAt(end.Add(-2 * day)) // the first look for long
	if count, _ := w.entries(); count != 0 || !strings.Contains(w.log.String(), "nothing is removed before the next look") {
		t.Errorf("the first look removed something, or did not say why not")
	}
	w.lookAt(end.Add(-day)) // the invites of 2026
	w.lookAt(end.Add(-time.Minute))
	w.lookAt(end)
	if count, what := w.entries(); count != 1 || !strings.Contains(what, "invites") || strings.Contains(what, "ride") {
		t.Errorf("%d entries, the last: %s", count, what)
	}
	if got := w.keysNaming(old.Name); got["ride"] == 0 || got["reading"] == 0 {
		t.Errorf("removed too early: %v", got)
	}
	w.lookAt(end.Add(day + time.Minute))
	w.lookAt(end.Add(day + 2*time.Minute)) // started again
	if count, what := w.entries(); count != 2 || what != "removed what the policy keeps no longer: 1 ride" {
		t.Errorf("%d entries, the last: %s", count, what)
	}
	after := w.keysNaming(old.Name)
	delete(after, "audit")
	if len(after) > 0 {
		t.Errorf("left: %v", after)
	}
	if got := w.keysNaming(later.Name); got["roster"] != others["roster"] || got["mark"] != others["mark"] || got["reading"] != others["reading"] || got["letter"] != others["letter"] {
		t.Errorf("the other ride had %v, and has %v", others, got)
	}
	if data := w.bytesKept(); bytes.Contains(data, []byte("The loop that was")) || !bytes.Contains(data, []byte("The loop that is")) {
		t.Error("the store was not rewritten, or too much is gone")
	}
	if km := w.ridden("ben"); km != kmOfBen || km == 0 {
		t.Errorf("the bike rode %v km, and now %v", kmOfBen, km)
	}
	files, err := w.export("ben")
	if err != nil || files["bikes/bike-1/rides/before-dry.json"] == "" || files["rides/"+names.Last(old.Name)+"/signup.json"] != "" {
		t.Errorf("the export: %v", told(err))
	}
	if err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error { _, err := tx.VerifyAudit(nil); return err }); err != nil {
		t.Error(err)
	}
	w.lookAt(later.StartAt.AsTime().Add(731 * day)) // after a long pause: the look after it removes
	w.lookAt(later.StartAt.AsTime().Add(732 * day))
	if km := w.ridden("ben"); km != kmOfBen {
		t.Errorf("of both rides: %v km, and now %v", kmOfBen, km)
	}
}

// ridden is how far a member's bike rode by its records, which is what the bike says.
func (w *world) ridden(id string) (km float64) {
	w.t.Helper()
	err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		if err := tx.Ridden(id, "bike-1", func(one *pb.RiddenRide) error { km += one.Km; return nil }); err != nil {
			return err
		}
		found, err := tx.Bike(id, "bike-1")
		if err == nil && found.RiddenKm != km {
			w.t.Errorf("the bike says %v km, its records %v", found.RiddenKm, km)
		}
		member, merr := tx.Member(id)
		if merr == nil && member.RidesRidden != 2 {
			w.t.Errorf("%d rides ridden", member.RidesRidden)
		}
		return err
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return km
}

// TestRetentionClock: a clock that jumps removes nothing, neither there nor when it is put right.
func TestRetentionClock(t *testing.T) {
	w, old, _ := oldRide(t)
	now := w.clock()
	for _, at := range []time.Time{now, now.Add(day), time.Date(2044, 1, 1, 0, 0, 0, 0, time.UTC), now.Add(2 * day), now.Add(3 * day), time.Date(1970, 1, 1, 0, 1, 0, 0, time.UTC), now.Add(4 * day)} {
		w.lookAt(at)
		if got := w.keysNaming(old.Name); got["ride"] == 0 {
			t.Fatalf("removed at %v: %v", at, got)
		}
	}
}

// TestRetentionPolicies: by the policy in force, and by none nothing. A ride that nobody closed stays for the least that a
// policy may say, 7 days.
func TestRetentionPolicies(t *testing.T) {
	without := bytes.Replace(policyfile.Winter, []byte(", rides_kept: 730d, invites_kept: 90d, devices_kept: 365d"), nil, 1)
	short := bytes.Replace(policyfile.Winter, []byte("rides_kept: 730d, invites_kept: 90d, devices_kept: 365d"), []byte("rides_kept: 7d, invites_kept: 3650d, devices_kept: 1d"), 1)
	type look struct {
		after        time.Duration
		ride, device bool
	}
	const minute = time.Minute
	for name, one := range map[string]struct {
		policy []byte
		looks  []look // each a day or more after the one before, and a day before it another
	}{
		"no keys": {without, []look{{365*day - minute, true, true}, {366 * day, true, false}, {730 * day, true, false}, {735 * day, false, false}}},
		"short":   {short, []look{{day - minute, true, true}, {2 * day, true, false}, {8*day + 15*time.Hour, true, false}, {9*day + 16*time.Hour, false, false}}},
	} {
		w := newWorld(t)
		if _, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "kept.yaml", Content: one.policy}); err != nil {
			t.Fatal(name, told(err))
		}
		w.member("Lea", &pb.Member{MayLead: true}, pb.Role_LEADER)
		w.member("Uma", nil)
		open := w.ride("lea", sunday()) // 39.5 hours from now
		devices, err := w.clubs.ListDevices(w.as("uma"), &pb.ListDevicesRequest{Parent: club + "/members/uma"})
		if err != nil {
			t.Fatal(told(err))
		}
		if _, err := w.clubs.RevokeDevice(w.as("sec"), &pb.RevokeDeviceRequest{Name: devices.Devices[0].Name}); err != nil {
			t.Fatal(told(err))
		}
		for _, look := range one.looks {
			at := friday.Add(look.after)
			w.lookAt(at.Add(-day))
			w.setClock(at)
			gone, err := w.retention().Expired(w.ctx, "fenwick")
			if err != nil {
				t.Fatal(err)
			}
			w.lookAt(at)
			kinds := w.keysNaming(open.Name)
			left, err := w.clubs.ListDevices(w.as("sec"), &pb.ListDevicesRequest{Parent: club + "/members/uma"})
			if err != nil || (kinds["ride"] > 0) != look.ride || (len(left.GetDevices()) == 1) != look.device {
				t.Errorf("%s after %v: %v, devices %v, %v; shown before: %s", name, look.after, kinds, left.GetDevices(), err, gone.Words())
			}
		}
	}
	bare := bareWorldWith(t, server.Forecasts{})
	bare.found("fenwick", "Sec")
	for _, at := range []time.Duration{0, day, 2 * day} {
		bare.lookAt(friday.Add(7300*day + at))
	}
	if count, _ := bare.entries(); count != 0 {
		t.Error("something was removed without a policy")
	}
}
