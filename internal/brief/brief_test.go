package brief_test

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"gritward/internal/brief"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the expected files anew")

// ids are the sections in their order, as the protocol's comment on BriefSection.id has them.
var ids = []string{"route", "daylight", "conditions", "hazards", "order", "kit", "bikes", "trouble", "cautions"}

func lines(r *pb.Roster, id string) string {
	return strings.Join(section(r, id).GetLines(), "\n")
}

func section(r *pb.Roster, id string) *pb.BriefSection {
	for _, s := range brief.Compose(r).GetSections() {
		if s.GetId() == id {
			return s
		}
	}
	return nil
}

func TestGolden(t *testing.T) {
	for _, name := range rostertest.Names() {
		t.Run(name, func(t *testing.T) {
			var b strings.Builder
			composed := brief.Compose(rostertest.Load(t, name))
			for _, spoken := range composed.GetSpoken() {
				b.WriteString("[spoken] " + spoken.GetGroup() + "\n" + strings.Join(spoken.GetSentences(), "\n") + "\n\n")
			}
			for _, s := range composed.GetSections() {
				b.WriteString("[" + s.GetId() + "] " + s.GetTitle())
				if s.GetUrgent() {
					b.WriteString(" (urgent)")
				}
				b.WriteString("\n" + strings.Join(s.GetLines(), "\n") + "\n\n")
			}
			path := filepath.Join(rostertest.Dir, name+".brief.txt")
			if *update {
				if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), b.String()); diff != "" {
				t.Errorf("the brief differs (-want +got):\n%s", diff)
			}
		})
	}
}

// TestPublishedSunTimes holds the times told against the published table for London, 12 December 2015 (UTC): sunrise
// 07:56, sunset 15:51, end of civil twilight 16:31.
func TestPublishedSunTimes(t *testing.T) {
	got := lines(rostertest.Load(t, "winter-run"), "daylight")
	if want := "Sunrise at 07:56, sunset at 15:51 and the last of the twilight at 16:31."; !strings.Contains(got, want) {
		t.Errorf("the brief tells\n%s\nwant %s", got, want)
	}
}

func TestTells(t *testing.T) {
	for _, c := range []struct {
		name, section string
		change        func(*pb.Roster)
		want          []string
		urgent        bool
	}{
		{"dark group comes first", "daylight", nil, []string{"Touring rides 32 min in the dark: lights lit from 15:21 until home."}, true},
		{"margins", "daylight", nil, []string{"Brisk is home at 12:31, 3 h 19 min before dark begins.", "Touring is home at 16:22, 32 min after dark begins.", "Start by 11:49 to be home 30 min before dark.", "It would have to start by 10:18 to be home 30 min before dark.", "Hills, trees and cloud are not reckoned"}, true},
		{"many stand worse after a late start", "daylight", func(r *pb.Roster) {
			r.Placement.Groups[0].StartLimit = &pb.StartLimit{LatestStartAt: r.Placement.Groups[0].Plan.StartAt}
			for i, name := range []string{"Ada", "Bo", "Cy", "Di", "Eb"} {
				after := pb.Standing_ADVISED
				if i%2 == 1 {
					after = pb.Standing_HELD
				}
				r.Placement.Groups[0].StartLimit.Worse = append(r.Placement.Groups[0].StartLimit.Worse, &pb.Worsening{DisplayName: name, After: after})
			}
		}, []string{"If Brisk starts after 09:00, 5 riders stand worse; 2 of them are held: Bo and Di."}, true},
		{"light is not urgent", "daylight", func(r *pb.Roster) { r.Placement.Groups = r.Placement.Groups[:2] }, []string{"It needs no lights if it keeps to time."}, false},
		{"polar night", "daylight", func(r *pb.Roster) {
			r.Plan = &pb.RidePlan{Groups: []*pb.GroupPlan{{Light: []*pb.LightSpan{{Sky: pb.LightSpan_NIGHT}}}}}
		}, []string{"The sun does not rise that day."}, true},
		{"midnight sun", "daylight", func(r *pb.Roster) {
			r.Plan = &pb.RidePlan{Groups: []*pb.GroupPlan{{Light: []*pb.LightSpan{{Sky: pb.LightSpan_DAY}}}}}
		}, []string{"The sun does not set that day."}, true},
		{"likely ice", "conditions", func(r *pb.Roster) {
			r.Plan.Groups[0].Ice, r.Plan.Groups[0].IceWhy = pb.CallOff_POSSIBLE, "air near freezing"
			r.Plan.Groups[1].Ice, r.Plan.Groups[1].IceWhy = pb.CallOff_LIKELY, "standing water freezes"
		}, []string{"Ice is likely: standing water freezes.", "Bridges, shade and hollows"}, true},
		{"ice", "conditions", nil, []string{"Ice is possible.", "feels like −4 °C", "wind 18 km/h from the south-west"}, true},
		{"mild", "conditions", func(r *pb.Roster) {
			for _, g := range r.Placement.Groups {
				g.Plan.Circumstances = []pb.Circumstance{pb.Circumstance_ALWAYS}
			}
		}, []string{"At the start: 1 °C"}, false},
		{"limits with reason", "conditions", func(r *pb.Roster) {
			r.Plan.CallOff, r.Ride.Reason = []string{"gusts above 70 km/h"}, "sheltered valley"
		},
			[]string{"passes the club's limits", "Gusts above 70 km/h.", "The leader's reason for riding: Sheltered valley."}, true},
		{"limits without reason", "conditions", func(r *pb.Roster) { r.Plan.CallOff = []string{"gusts above 70 km/h"} }, []string{"gave no reason"}, true},
		{"frost", "conditions", func(r *pb.Roster) { r.Placement.Groups[0].Plan.FeelsLikeMinC = proto.Float64(-27) }, []string{"Bare skin can freeze"}, true},
		{"no weather", "conditions", func(r *pb.Roster) { r.Plan.Weather = nil }, []string{"No weather has been entered"}, true},
		{"forecast", "conditions", func(r *pb.Roster) {
			r.Plan.WeatherBasis, r.Plan.NotJudged = "Weather from the forecast of noon", []string{"Gusts: none are told", "Ice: unknown"}
			r.Ride.Forecast = &pb.Forecast{IssuedAt: timestamppb.New(r.PublishedAt.AsTime().Add(-7 * time.Hour))}
		}, []string{"Not judged against the club's limits for calling off. Gusts: none are told. Ice: unknown.",
			"Weather from the forecast of noon.", "The forecast was 7 h old when this was published.", "An official weather warning comes before any forecast"}, true},
		{"held", "bikes", nil, []string{"Sol Pike is held until the bike is put right.", "renew the rear pads", "Set aside for Petra Vane by Ann Aske"}, true},
		{"nothing open", "bikes", func(r *pb.Roster) { r.Placement = nil }, []string{"No bike has anything open."}, false},
		{"back and why", "order", nil, []string{"Sent to the back of Steady, and no turns at the front: Jon Marl (guards) and Kit Sorrel (guards).", "Ann Aske leads, Ben Bole marks the back"}, false},
		{"single file", "order", func(r *pb.Roster) { r.Ride.SingleFile = true }, []string{"We ride in single file."}, false},
		{"lights by whom", "kit", nil, []string{"Touring: a white front light and a red rear light", "aim front ones down and keep rear ones steady", "Brisk and Steady: take lights all the same"}, false},
		{"number", "trouble", nil, []string{"112, or your local number", "Ann Aske, telephone 07700 900142", "Nobody is left unaccounted for"}, false},
		{"cautions", "cautions", nil, []string{"Local road law and official weather warnings come before", "does not replace a mechanic's inspection", "The leader on the road decides", "reckoned, not promised", "flat horizon"}, false},
		{"taken for granted", "cautions", func(r *pb.Roster) {
			r.Ride.Route.Notes, r.Plan.Notes = []string{"a flat road is assumed."}, []string{"a flat road is assumed.", "still air is assumed."}
		}, []string{"horizon and a clear view.\nTaken for granted: a flat road is assumed.\nTaken for granted: still air is assumed."}, false},
		{"called off", "route", func(r *pb.Roster) { r.Ride.State, r.Ride.CallOffReason = pb.Ride_CALLED_OFF, "snow" }, []string{"CALLED OFF by Ann Aske: snow. Do not go."}, true},
		{"no group", "route", func(r *pb.Roster) { r.Placement.Groups = nil }, []string{"No group runs."}, true},
		{"stops", "route", nil, []string{"Stop at 41.2 km: Mill tea room, 25 min. Brisk about 10:26, Steady about 10:54, Touring about 13:46."}, false},
		{"another day", "route", func(r *pb.Roster) { r.Placement.Groups[0].Plan.HomeAt = &timestamppb.Timestamp{Seconds: 1449966600} }, []string{"home about 00:30 on Sun 13 Dec"}, false},
		{"past rides", "route", func(r *pb.Roster) {
			r.Placement.Groups[0].Plan.PastTimes = &pb.PastTimes{Used: true, RidesNeeded: 5, Words: "5 rides since 12 Oct: 4 % slower than planned"}
			few := &pb.PastTimes{RidesNeeded: 5, Words: "not enough rides recorded: 0 of 5"}
			r.Placement.Groups[1].Plan.PastTimes, r.Placement.Groups[2].Plan.PastTimes = few, few
		}, []string{"That rests on 5 rides since 12 Oct: 4 % slower than planned.\n",
			"\nReckoned by pace alone, for not enough rides are recorded: Steady, Touring.\n"}, false},
		{"unknown zone is UTC", "route", func(r *pb.Roster) { r.Zone = "Local" }, []string{"09:00"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rostertest.Load(t, "winter-run")
			if c.change != nil {
				c.change(r)
			}
			s := section(r, c.section)
			for _, want := range c.want {
				if !strings.Contains(strings.Join(s.GetLines(), "\n"), want) {
					t.Errorf("%q is not told in\n%s", want, strings.Join(s.GetLines(), "\n"))
				}
			}
			if s.GetUrgent() != c.urgent {
				t.Errorf("urgent is %v, want %v", s.GetUrgent(), c.urgent)
			}
		})
	}
}

func TestHazardsByDistance(t *testing.T) {
	got := lines(rostertest.Load(t, "winter-run"), "hazards")
	at := -1
	for _, want := range []string{"12.4 km", "33.9 km", "58.3 km", "29.8 km", "47.1 km"} {
		i := strings.Index(got, want)
		if i <= at {
			t.Errorf("%s is out of order in\n%s", want, got)
		}
		at = i
	}
}

func TestEveryOpenFindingIsTold(t *testing.T) {
	r := rostertest.Load(t, "winter-run")
	got := lines(r, "bikes")
	for _, g := range r.GetPlacement().GetGroups() {
		for _, row := range g.GetRows() {
			for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				for _, f := range rider.GetFindings() {
					if !strings.Contains(got, rider.GetDisplayName()+", ") || !strings.Contains(got, f.GetRemedy()) {
						t.Errorf("%s: %s is not told", rider.GetDisplayName(), f.GetRule())
					}
				}
			}
		}
	}
}

// TestSharedAdvice tells three riders with the same advice once with their names, two each alone, and never what is worse.
func TestSharedAdvice(t *testing.T) {
	const together = "Advice for Wilhelmina Castleforth of the Upper Weir, Jory Pell, Orla Dunmere and Bram Tarn. Needed: 2 rear lamps (policy line 97). To put it right: Carry 1 more rear lamp."
	r := rostertest.Load(t, "first-light")
	got := lines(r, "bikes")
	if !strings.Contains(got, together) || strings.Count(got, "2 rear lamps") != 1 {
		t.Errorf("advice that four share is told as\n%s", got)
	}
	if !strings.Contains(got, "Jory Pell, old steel, in Dawn, at the back. Needed: rear: full guard, flap (policy line 122).") {
		t.Errorf("what is worse than advice is not told for the rider alone:\n%s", got)
	}
	rows := r.Placement.Groups[0].Rows
	rows[1].Right.Findings[0].Remedy = "Charge it."
	if got := lines(r, "bikes"); !strings.Contains(got, "Advice for Wilhelmina Castleforth of the Upper Weir. Needed: 2 rear lamps") || strings.Count(got, "Advice for") != 2 {
		t.Errorf("another remedy is not told apart:\n%s", got)
	}
	rows[1].Right.Findings, rows[2].Right.Findings = nil, nil
	if got := lines(r, "bikes"); strings.Contains(got, "Advice for") || strings.Count(got, "2 rear lamps") != 2 {
		t.Errorf("two riders' advice is told as\n%s", got)
	}
}

func TestAbovePace(t *testing.T) {
	for _, c := range []struct {
		name   string
		off    float64
		junior bool
		want   string
	}{
		{"two and more", 2, false, "Ann Aske would ride 2 km/h above own pace in Brisk: ask before the start."},
		{"junior", 6.04, true, "Ann Aske, a junior, would ride 6 km/h above own pace in Brisk: ask both junior and guardian before the start."},
		{"less", 1.9, true, ""}, {"below", -5, true, ""}, {"no number", math.NaN(), true, ""}, {"no end", math.Inf(1), true, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rostertest.Load(t, "winter-run")
			rider := r.Placement.Groups[0].Rows[0].Left
			rider.PaceOffKmh, rider.Junior = c.off, c.junior
			s := section(r, "order")
			if got := strings.Join(s.GetLines(), "\n"); strings.Contains(got, "above own pace") != (c.want != "") || !strings.Contains(got, c.want) {
				t.Errorf("want %q in\n%s", c.want, got)
			}
			if s.GetUrgent() != (c.junior && c.want != "") {
				t.Errorf("urgent is %v", s.GetUrgent())
			}
		})
	}
}

func TestRandomRosters(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rostertest.Random(rt)
		before := proto.Clone(r)
		b := brief.Compose(r)
		if !sameRoster(before, r) {
			rt.Fatal("Compose changed the roster")
		}
		var got []string
		for _, s := range b.GetSections() {
			got = append(got, s.GetId())
			if len(s.GetLines()) == 0 || s.GetTitle() == "" {
				rt.Fatalf("section %s is empty", s.GetId())
			}
			for _, line := range s.GetLines() {
				if line == "" || strings.Contains(line, "NaN") || strings.Contains(line, "Inf") {
					rt.Fatalf("section %s tells %q", s.GetId(), line)
				}
			}
		}
		if !slices.Equal(got, ids) {
			rt.Fatalf("sections %v, want %v", got, ids)
		}
	})
}

// sameRoster compares the printed forms: to proto.Equal a number that is none differs from itself.
func sameRoster(a, b proto.Message) bool {
	return cmp.Equal(a.(*pb.Roster).String(), b.(*pb.Roster).String())
}

func TestNearlyEmpty(t *testing.T) {
	for name, r := range map[string]*pb.Roster{"nil": nil, "empty": {}, "nil parts": {
		Placement: &pb.Placement{Groups: []*pb.RosterGroup{nil, {Rows: []*pb.Row{nil, {}}}}, Unplaced: []*pb.Unplaced{nil}},
		Ride:      &pb.Ride{Stops: []*pb.Stop{nil}, Hazards: []*pb.PlaceNote{nil}, Conditions: &pb.Conditions{Later: []*pb.HourWeather{nil}}, Forecast: &pb.Forecast{}},
	}} {
		t.Run(name, func(t *testing.T) {
			for _, s := range brief.Compose(r).GetSections() {
				if !utf8.ValidString(strings.Join(s.GetLines(), "")) {
					t.Errorf("section %s is no text", s.GetId())
				}
			}
		})
	}
}

func BenchmarkCompose(b *testing.B) {
	r := rostertest.Load(b, "winter-run")
	for b.Loop() {
		brief.Compose(r)
	}
}

// TestDeclaredInPart tells what was declared also where something else was not.
func TestDeclaredInPart(t *testing.T) {
	r := rostertest.Load(t, "winter-run")
	for declared, want := range map[string]string{
		"front: pads 0.2 mm; rear: brake not declared": "Declared: front: pads 0.2 mm; rear: brake not declared.", "not declared": "Not declared.", "": "Not declared.",
	} {
		r.Placement.Unplaced = []*pb.Unplaced{{DisplayName: "Una", BikeTitle: "grey", Findings: []*pb.Finding{
			{Rule: "brakes", Standing: pb.Standing_HELD, Needed: "brakes that bite", Declared: declared, NotDeclared: true}}}}
		if got := lines(r, "bikes"); !strings.Contains(got, "is held. Needed: brakes that bite. "+want) {
			t.Errorf("declared %q: told\n%s", declared, got)
		}
	}
}
