package roster_test

import (
	"context"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// A held bike in a full group: neither to mend it nor one place more is enough, and both together are told.
func TestMendAndOneThingMore(t *testing.T) {
	in := input(t, []roster.Entrant{
		entrant(0, 18, true, false, "ready"), entrant(1, 18, false, true, "ready"), entrant(2, 18, false, false, "ready"),
		entrant(3, 18, false, false, "ready"), entrant(4, 20, false, false, "short"),
	})
	easy := in.Ride.Groups[2]
	easy.MaxSize = 4
	said, err := roster.Explain(context.Background(), in, in.Entrants[4].Member.Name)
	if err != nil {
		t.Fatal(err)
	}
	option := said.Options[2]
	if option.Standing != pb.Standing_HELD || len(option.Remedies) == 0 {
		t.Fatalf("%v", option)
	}
	words := option.Remedies[0].Words
	if !regexp.MustCompile(`^One place more in Easy; .*, and the bike rides anywhere in Easy, with advice\.$`).MatchString(words) ||
		option.Remedies[0].Standing >= pb.Standing_HELD {
		t.Errorf("%v", option.Remedies)
	}
	mended := entrant(4, 20, false, false, "ready")
	for _, step := range []struct {
		bike   *pb.Bike
		places int32
		there  bool
	}{{mended.Bike, 4, false}, {in.Entrants[4].Bike, 5, false}, {mended.Bike, 5, true}} {
		in.Entrants[4].Bike, easy.MaxSize = step.bike, step.places
		if rides, _ := groupsIn(place(t, in)); (rides[in.Entrants[4].Member.Name] == "easy") != step.there {
			t.Errorf("with %d places: rides in %q", step.places, rides[in.Entrants[4].Member.Name])
		}
	}
}

var minutes = regexp.MustCompile(`(\d+) min`)

// What is said to help together does when it is followed: lamps as good as is told, and one place more or the wish.
func TestTogetherHelps(t *testing.T) {
	base, followed := input(t, nil), 0
	rapid.Check(t, func(r *rapid.T) {
		in := someClub(r, base, 12)
		in.Ride = proto.CloneOf(in.Ride)
		for _, group := range in.Ride.Groups {
			group.MaxSize = 4
		}
		i := len(in.Entrants)
		in.Entrants = append(in.Entrants, entrant(i, rapid.SampledFrom([]float64{16, 20, 25}).Draw(r, "own pace"), false, false, "short"))
		who := in.Entrants[i]
		said, err := roster.Explain(context.Background(), in, who.Member.Name)
		if err != nil {
			r.Fatal(err)
		}
		for at, option := range said.Options {
			for _, remedy := range option.Remedies {
				room, wish := strings.HasPrefix(remedy.Words, "One place more in "), strings.HasPrefix(remedy.Words, "Wish for ")
				found := minutes.FindAllStringSubmatch(remedy.Words, -1)
				if !strings.Contains(remedy.Words, "; ") || option.Standing < pb.Standing_BACK || !room && !wish || len(found) == 0 {
					continue
				}
				followed++
				then := in
				then.Ride, then.Entrants = proto.CloneOf(in.Ride), append([]roster.Entrant(nil), in.Entrants...)
				mine := who
				mine.Bike, mine.Signup = proto.CloneOf(who.Bike), proto.CloneOf(who.Signup)
				for _, light := range mine.Bike.Declaration.Facts.Lights {
					for _, one := range found {
						if need, _ := strconv.ParseFloat(one[1], 64); need > light.GetRuntimeMin() {
							light.RuntimeMin = proto.Float64(need)
						}
					}
				}
				if then.Entrants[i] = mine; room {
					then.Ride.Groups[at].MaxSize++
				} else {
					mine.Signup.PreferredGroup = option.Group
				}
				if rides, _ := groupsIn(place(r, then)); rides[who.Member.Name] != option.Group {
					r.Fatalf("%s: rides in %q", remedy.Words, rides[who.Member.Name])
				}
			}
		}
	})
	if followed == 0 {
		t.Error("nothing was followed: the test shows less than it should")
	}
	t.Logf("%d remedies followed", followed)
}
