package render_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// winter is an invented season of rides, one a week.
func winter(rides int) *pb.SeasonReport {
	first := time.Date(2026, 10, 4, 0, 0, 0, 0, time.UTC)
	r := &pb.SeasonReport{Club: "clubs/marrowdale", ClubTitle: "Marrowdale Road Club", From: "2026-10-01", To: "2027-03-31", Zone: "Europe/London",
		MadeAt: timestamppb.New(time.Date(2027, 4, 1, 19, 30, 0, 0, time.UTC)), NamesTold: true,
		Missing: []string{"Of 1 past ride nobody marked who set out: whether it was ridden is not known, and it counts as neither held nor called off."},
		Rules:   []*pb.RuleCount{{Rule: "rear-light", Check: pb.Check_LIGHTS, Times: 21, Held: 12, Back: 0, Advised: 9, NotDeclared: 4}},
		Remedies: []*pb.RemedyCount{{Remedy: "Charge the rear light, or fit one that lasts … min", Times: 14}, {Remedy: "Fit a full guard at the rear with a flap that ends … mm above the road", Times: 9},
			{Remedy: "Measure the chain", Times: 5}},
		Riders: []*pb.SeasonRider{{Member: "clubs/marrowdale/members/a", DisplayName: "Osric Penhale", Rode: 12, Home: 11}, {Member: "clubs/marrowdale/members/b", Rode: 3, Home: 3, Waiting: 1}},
		Bikes: []*pb.SeasonBike{{DisplayName: "Osric Penhale", Title: "Old <Grey>", Rides: 11, Km: 812.4, WetRides: 5, ChainFirstPct: proto.Float64(.2), ChainFirstOn: "2026-10-12",
			ChainLastPct: proto.Float64(.45), ChainLastOn: "2027-02-01"}},
	}
	totals := &pb.SeasonTotals{Rides: int32(rides), Held: int32(rides - 2), CalledOff: 1, NotRecorded: 1, Riders: 31, Standings: &pb.StandingCount{Clear: 120, Advised: 51, Back: 32, Held: 13},
		Signups: 251, Waiting: 4, Withdrawn: 7, GroupsRun: 39, GroupsIdle: 3, Km: 11310.4, BikeRides: 180, WetBikeRides: 61, WetRides: 4, Wishes: 117, WishesMet: 96,
		TimedGroups: 30, PlannedMin: 6120, TookMin: 6480, OverdueNotices: 2, Incidents: 1}
	for i := range rides {
		day := first.AddDate(0, 0, 7*i)
		ride := &pb.SeasonRide{Ride: fmt.Sprintf("clubs/marrowdale/rides/r%d", i), Title: "Becks & moor", Day: day.Format(time.DateOnly), Outcome: pb.SeasonRide_HELD,
			Rode: int32(14 + 5*i%9), Home: int32(11 + 5*i%9), TurnedBack: 3, Signups: int32(16 + 5*i%9), Wishes: 9, WishesMet: int32(6 + i%4), Wet: proto.Bool(i%3 == 0)}
		for g, id := range []string{"brisk", "steady", "easy"} {
			ride.Groups = append(ride.Groups, &pb.SeasonGroup{Group: id, Title: strings.ToUpper(id[:1]) + id[1:], Riders: 6,
				MarginMin: proto.Float64(float64(150 - 18*i + i*i - 40*g)), LitMin: float64(8 * i)})
		}
		ride.Issues = []*pb.SeasonIssue{{Number: 1, Standings: &pb.StandingCount{Clear: int32(8 + i%4), Advised: int32(3 + i%3), Back: int32(2 + i%2), Held: int32(i % 3)}}}
		switch i {
		case 4:
			ride.Outcome, ride.CallOffReason, ride.Rode, ride.Home, ride.TurnedBack = pb.SeasonRide_CALLED_OFF, "ice on the moor road", 0, 0, 0
		case 9:
			ride.Outcome, ride.Rode, ride.Home, ride.TurnedBack, ride.Issues, ride.Groups = pb.SeasonRide_NOT_RECORDED, 0, 0, 0, nil, nil
		}
		r.Rides = append(r.Rides, ride)
		totals.Rode += ride.Rode
		totals.Home += ride.Home
		totals.TurnedBack += ride.TurnedBack
	}
	r.Totals = totals
	return r
}

func seasonHTML(t testing.TB, r *pb.SeasonReport) string {
	t.Helper()
	var b bytes.Buffer
	if err := render.SeasonHTML(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestSeasonGolden(t *testing.T) { golden(t, "season.html", seasonHTML(t, winter(14))) }

// TestSeasonPictures: every picture is XML that a parser reads, says in its description what it shows, and stays within its
// frame, whether rides have columns of their own or months do.
func TestSeasonPictures(t *testing.T) {
	for _, rides := range []int{1, 14, 40, 41, 520} {
		page := seasonHTML(t, winter(rides))
		pictures := strings.Split(page, "<svg ")[1:]
		if len(pictures) != 6 {
			t.Fatalf("%d rides: %d pictures", rides, len(pictures))
		}
		for _, picture := range pictures {
			picture = "<svg " + picture[:strings.Index(picture, "</svg>")+len("</svg>")]
			var wide, deep float64
			read := xml.NewDecoder(strings.NewReader(picture))
			for {
				token, err := read.Token()
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatalf("%d rides: %v", rides, err)
				}
				start, is := token.(xml.StartElement)
				if !is {
					continue
				}
				at := map[string]float64{}
				for _, a := range start.Attr {
					var v float64
					if _, err := fmt.Sscanf(a.Value, "%g", &v); err == nil {
						at[a.Name.Local] = v
					}
					if a.Name.Local == "viewBox" {
						if _, err := fmt.Sscanf(a.Value, "0 0 %g %g", &wide, &deep); err != nil {
							t.Fatal(err)
						}
					}
				}
				if start.Name.Local == "rect" && (at["x"] < 0 || at["y"] < 0 || at["x"]+at["width"] > wide+.2 || at["y"]+at["height"] > deep+.2) {
					t.Errorf("%d rides: a bar outside of the picture: %v in %g x %g", rides, at, wide, deep)
				}
			}
		}
	}
	if page := seasonHTML(t, winter(14)); !strings.Contains(page, "4 Oct: 14, 11 Oct: 19") || strings.Contains(page, "Old <Grey>") {
		t.Error("the picture is not told in words, or a title is not escaped")
	}
}

// TestSeasonNothing: a report of nothing at all is a page.
func TestSeasonNothing(t *testing.T) {
	for _, r := range []*pb.SeasonReport{nil, {}, {Rides: []*pb.SeasonRide{{}}}} {
		if page := seasonHTML(t, r); !strings.Contains(page, "</html>") {
			t.Errorf("%v: %s", r, page)
		}
	}
}
