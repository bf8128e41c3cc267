package roster_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/policy"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// changed is a rider with another bike, care log, look-over or date of the last wet ride; what was given stays as it was.
func changed(rt *rapid.T, rider roster.Entrant, now time.Time) roster.Entrant {
	rider.Bike, rider.Signup = proto.CloneOf(rider.Bike), proto.CloneOf(rider.Signup)
	soon := timestamppb.New(now.Add(time.Duration(rapid.IntRange(-120, 120).Draw(rt, "minutes")) * time.Minute))
	switch rapid.SampledFrom([]string{"lamp", "certified", "care", "look", "wet", "sign-up"}).Draw(rt, "change") {
	case "lamp":
		for _, light := range rider.Bike.Declaration.Facts.Lights {
			light.RuntimeMin = proto.Float64(float64(rapid.IntRange(20, 200).Draw(rt, "lamp")))
		}
	case "certified":
		rider.Bike.Declaration.CertifiedAt = soon
	case "care":
		rider.Care = append(rider.Care[:len(rider.Care):len(rider.Care)], &pb.CareEntry{
			Name: rider.Bike.Name + "/care/1", DoneOn: now.Format(time.DateOnly), RecordedAt: soon, End: pb.End_REAR, ThicknessMm: proto.Float64(0.2),
			Work: rapid.SampledFrom([]pb.CareEntry_Work{pb.CareEntry_WASHED, pb.CareEntry_PADS_MEASURED, pb.CareEntry_LIGHT_CHARGED}).Draw(rt, "work")})
	case "look":
		rider.Looks = append(rider.Looks[:len(rider.Looks):len(rider.Looks)], &pb.LookOver{At: soon, Found: []*pb.Found{{
			What: pb.Found_LIGHT_DEAD, End: pb.End_REAR}}})
	case "wet":
		rider.LastWetRideOn = now.AddDate(0, 0, -rapid.IntRange(0, 9).Draw(rt, "days")).Format(time.DateOnly)
	case "sign-up":
		rider.Signup.PreferredGroup = "easy"
	}
	return rider
}

// TestJudgedBefore has riders come, go and change, and time pass: what is kept of those who were judged before tells the same start limits as
// judging everybody anew, and their digests the same basis.
func TestJudgedBefore(t *testing.T) {
	line, zone, shipped, own := hills(), london(t), winter(t), strict(t)
	limited := 0
	rapid.Check(t, func(rt *rapid.T) {
		ride, riders := drawnRide(rt, zone)
		if later := ride.Conditions.GetLater(); len(later) > 1 {
			ride.Conditions.Later = later[:1] // judging everybody anew takes long where the weather changes often
		}
		p := rapid.SampledFrom([]*policy.Policy{shipped, shipped, shipped, own}).Draw(rt, "policy")
		now := ride.StartAt.AsTime().Add(-time.Duration(rapid.IntRange(1, 72).Draw(rt, "hours before")) * time.Hour).In(zone)
		lines, err := roster.NewTimelines(ride, line, p, zone, nil)
		if err != nil {
			rt.Fatal(err)
		}
		left := riders[0]
		for range rapid.IntRange(2, 4).Draw(rt, "changes") {
			switch rapid.SampledFrom([]string{"goes", "comes", "changes", "changes", "time"}).Draw(rt, "what") {
			case "goes":
				if len(riders) > 1 {
					left, riders = riders[0], riders[1:]
				}
			case "comes":
				riders = append(riders[:len(riders):len(riders)], left)
			case "changes":
				riders = append(riders[1:len(riders):len(riders)], changed(rt, riders[0], now))
			case "time":
				now = now.Add(time.Duration(rapid.IntRange(1, 40*60).Draw(rt, "passed")) * time.Minute)
			}
			known := make([]roster.Entrant, len(riders))
			for i, rider := range riders {
				if known[i], err = rider.Digested(); err != nil {
					rt.Fatal(err)
				}
			}
			kept, err := roster.StartLimits(lines, known, now)
			if err != nil {
				rt.Fatal(err)
			}
			fresh, err := roster.NewTimelines(ride, line, p, zone, nil)
			if err != nil {
				rt.Fatal(err)
			}
			anew, err := roster.StartLimits(fresh, riders, now)
			if err != nil {
				rt.Fatal(err)
			}
			if !proto.Equal(kept[0], anew[0]) {
				rt.Fatalf("with what is kept: %v; anew: %v", kept[0], anew[0])
			}
			if anew[0].LatestStartAt != nil {
				limited++
			}
			basis, err := roster.Basis(roster.Input{Ride: ride, Policy: p, Entrants: riders})
			if again, againErr := roster.Basis(roster.Input{Ride: ride, Policy: p, Entrants: known}); err != nil || againErr != nil || again != basis {
				rt.Fatalf("the basis is %s by digests, else %s: %v, %v", again, basis, err, againErr)
			}
		}
	})
	if limited == 0 {
		t.Error("no ride had a limit")
	}
}

// TestJudgedOnceDated: a bike certified, or mended, later than now counts from then on, on the same day, too.
func TestJudgedOnceDated(t *testing.T) {
	line, ride := becks(t)
	lines, err := roster.NewTimelines(ride, line, winter(t), london(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	now := friday
	rider := entrant(3, 16, false, false, "short")
	rider.Bike.Declaration.CertifiedAt = timestamppb.New(now.Add(time.Hour))
	if rider, err = rider.Digested(); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		after   time.Duration
		limited bool // before it is certified it stands badly from every start
	}{{0, false}, {time.Hour - time.Second, false}, {time.Hour, true}, {2 * time.Hour, true}} {
		limits, err := roster.StartLimits(lines, []roster.Entrant{rider}, now.Add(test.after))
		if err != nil {
			t.Fatal(err)
		}
		if got := limits[0].LatestStartAt != nil; got != test.limited {
			t.Errorf("after %s there is a limit: %v; %v", test.after, got, limits)
		}
	}
}
