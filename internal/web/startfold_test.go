//go:build browser

package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// folded is what static/startfold.js tells of a roll call.
type folded struct {
	Riders []struct {
		Member    string   `json:"m"`
		Name      string   `json:"name"`
		Group     string   `json:"group"`
		State     string   `json:"state"`
		Accounted bool     `json:"accounted"`
		Overdue   bool     `json:"overdue"`
		Placed    bool     `json:"placed"`
		Doubts    []string `json:"doubts"`
		Due       int64    `json:"due"`
		PlannedM  float64  `json:"planned_m"`
		Planned   string   `json:"planned"`
		Last      struct {
			ID string `json:"id"`
		} `json:"last"`
	} `json:"riders"`
	Groups    []map[string]any `json:"groups"`
	Closed    bool             `json:"closed"`
	Accounted bool             `json:"accounted"`
	Doubts    []string         `json:"doubts"`
}

// driver has Node.js fold one case a line.
const driver = `const fold = require(process.argv[1]); const out = [];
for (const line of require("fs").readFileSync(0, "utf8").split("\n")) if (line) {
  const c = JSON.parse(line); out.push(JSON.stringify(fold.call(c.basis, c.marks, c.now)));
}
process.stdout.write(out.join("\n"));`

type foldCase struct {
	Basis lineBasis  `json:"basis"`
	Marks []lineMark `json:"marks"`
	Now   int64      `json:"now"`
	want  *pb.RollCall
}

// TestScriptFoldsAsTheServer holds what the page tells without a signal against the server's rule, on random rides, marks,
// strikes, clocks and closings.
func TestScriptFoldsAsTheServer(t *testing.T) {
	var cases []foldCase
	rapid.Check(t, func(t *rapid.T) {
		basis, marks, now := drawRide(t)
		cases = append(cases, foldCase{lineBasisOf(basis), lineMarks(marks), now.UnixMicro(), rollcall.Call(basis, marks, now)})
	})
	var input bytes.Buffer
	for _, c := range cases {
		line, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		input.Write(append(line, '\n'))
	}
	run := exec.Command("node", "-e", driver, "./static/startfold.js")
	run.Stdin, run.Stderr = &input, testOut{t}
	output, err := run.Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(output), "\n")
	if len(lines) != len(cases) || len(cases) < 50 {
		t.Fatalf("%d answers to %d cases", len(lines), len(cases))
	}
	for i, line := range lines {
		var got folded
		if err := json.Unmarshal([]byte(line), &got); err != nil {
			t.Fatal(err)
		}
		if have, want := gist(got), gistOf(cases[i].want); have != want {
			t.Fatalf("the script tells\n%s\nand the server\n%s\nof %+v", have, want, cases[i])
		}
	}
}

type testOut struct{ t *testing.T }

func (o testOut) Write(p []byte) (int, error) { o.t.Log(string(p)); return len(p), nil }

// drawRide draws a ride with its marks, and when it is looked at.
func drawRide(t *rapid.T) (*pb.RollBasis, []*pb.Mark, time.Time) {
	start := time.Date(2026, 3, 28, 22, 0, 0, 0, time.UTC) // over midnight, and in the night in which clocks go forward
	at := func(label string, from, to int) *timestamppb.Timestamp {
		return timestamppb.New(start.Add(time.Duration(rapid.IntRange(from, to).Draw(t, label)) * time.Second))
	}
	zone := rapid.SampledFrom([]string{"Europe/London", "UTC", "America/St_Johns", "Pacific/Chatham"}).Draw(t, "zone")
	basis := &pb.RollBasis{Ride: "clubs/c/rides/r", Zone: zone, Grace: durationpb.New(time.Duration(rapid.IntRange(0, 60).Draw(t, "grace")) * time.Minute)}
	groups := []string{"brisk", "easy", "", "other"}
	for _, id := range groups[:rapid.IntRange(0, 2).Draw(t, "plans")] {
		home := at("home", 3600, 20000)
		stop := at("stop", 600, 3000)
		basis.Plans = append(basis.Plans, &pb.GroupPlan{Group: id, Title: strings.ToUpper(id), StartAt: timestamppb.New(start), HomeAt: home, DistanceM: 77_900, Points: []*pb.PlanPoint{
			{At: timestamppb.New(start), What: "start"}, {At: stop, DistanceM: rapid.Float64Range(1, 70_000).Draw(t, "m"), What: "Barn", LeavesAt: timestamppb.New(stop.AsTime().Add(5 * time.Minute))},
			{At: home, DistanceM: 77_900, What: "home"}}})
	}
	members := []string{"ada", "ben", "cyd", "dov", "eve"}
	for _, id := range members[:rapid.IntRange(0, 4).Draw(t, "placed")] {
		name := rapid.SampledFrom([]string{"Ada", "Émile", "ada", "\U0001F6B2 Bo", "\uFF21da", "Zoë"}).Draw(t, "name")
		basis.Riders = append(basis.Riders, &pb.Expected{Member: names.Member("c", id), DisplayName: name, Group: rapid.SampledFrom(groups).Draw(t, "group")})
	}
	basis.Others = []*pb.Expected{{Member: names.Member("c", "eve"), DisplayName: "Eve"}}
	for range rapid.IntRange(0, 3).Draw(t, "closings") {
		closing := &pb.Closing{Group: rapid.SampledFrom(groups[:3]).Draw(t, "shut"), Reopened: rapid.IntRange(0, 3).Draw(t, "reopened") == 0}
		if rapid.Bool().Draw(t, "known") {
			closing.Open = []string{names.Member("c", rapid.SampledFrom(members).Draw(t, "open"))}
		}
		basis.Closings = append(basis.Closings, closing)
	}
	return basis, drawMarks(t, at, members, groups), at("now", -3600, 90_000).AsTime()
}

func drawMarks(t *rapid.T, at func(string, int, int) *timestamppb.Timestamp, members, groups []string) (marks []*pb.Mark) {
	for i := range rapid.IntRange(0, 25).Draw(t, "marks") {
		mark := &pb.Mark{Name: fmt.Sprintf("clubs/c/rides/r/marks/m%d", rapid.IntRange(0, 30).Draw(t, "id")), Member: names.Member("c", rapid.SampledFrom(members).Draw(t, "who")),
			What: pb.Mark_What(rapid.IntRange(1, 9).Draw(t, "what")), CorrectedAt: at("at", 0, 100*rapid.SampledFrom([]int{1, 200}).Draw(t, "apart")),
			Device: names.Device("c", rapid.SampledFrom(members).Draw(t, "by"), rapid.SampledFrom([]string{"d1", "d2"}).Draw(t, "device")), Number: int64(i + 1)}
		if rapid.IntRange(0, 3).Draw(t, "moved") == 0 {
			mark.Group = rapid.SampledFrom(groups).Draw(t, "to")
		}
		if mark.What == pb.Mark_STRIKE {
			mark.Strikes = fmt.Sprintf("m%d", rapid.IntRange(0, 30).Draw(t, "strikes"))
		}
		if rapid.IntRange(0, 4).Draw(t, "wrong") == 0 {
			ahead := rapid.IntRange(60, 9000).Draw(t, "ahead") * rapid.SampledFrom([]int{-1, 1}).Draw(t, "sign") // the server notes none under a minute
			mark.ClockAhead = durationpb.New(time.Duration(ahead) * time.Second)
		}
		marks = append(marks, mark)
	}
	return marks
}

// gist tells all that is held equal, on lines.
func gist(f folded) string {
	var b strings.Builder
	for _, r := range f.Riders {
		fmt.Fprintf(&b, "%s %q %q %s %t %t %t due %d at %d %q last %s %q\n", r.Member, r.Name, r.Group, r.State, r.Accounted, r.Overdue, r.Placed, r.Due,
			int64(math.Round(r.PlannedM)), r.Planned, r.Last.ID, append([]string{}, r.Doubts...))
	}
	for _, g := range f.Groups {
		fmt.Fprintf(&b, "%q %q", g["g"], g["title"])
		for _, key := range []string{"riders", "not_seen", "signed_on", "out", "turned_back", "home", "handed_over", "did_not_come", "overdue"} {
			fmt.Fprintf(&b, " %v", g[key])
		}
		off, _ := g["off"].(float64)
		fmt.Fprintf(&b, " %t off %d\n", g["closed"], int64(off))
	}
	fmt.Fprintf(&b, "%t %t %q", f.Closed, f.Accounted, append([]string{}, f.Doubts...))
	return b.String()
}

func gistOf(call *pb.RollCall) string {
	f := folded{Closed: call.GetClosed(), Accounted: call.GetAccounted(), Doubts: call.GetDoubts()}
	var b strings.Builder
	for _, r := range call.GetRiders() {
		fmt.Fprintf(&b, "%s %q %q %s %t %t %t due %d at %d %q last %s %q\n", names.Last(r.GetMember()), r.GetDisplayName(), r.GetGroup(), r.GetState(), r.GetAccounted(), r.GetOverdue(),
			r.GetPlaced(), lineMicros(r.GetDueAt()), int64(math.Round(r.GetPlannedM())), r.GetPlanned(), names.Last(r.GetLast().GetName()), append([]string{}, r.GetDoubts()...))
	}
	for _, g := range call.GetGroups() {
		fmt.Fprintf(&b, "%q %q %d %d %d %d %d %d %d %d %d %t off %d\n", g.GetGroup(), g.GetTitle(), g.GetRiders(), g.GetNotSeen(), g.GetSignedOn(), g.GetOut(), g.GetTurnedBack(),
			g.GetHome(), g.GetHandedOver(), g.GetDidNotCome(), g.GetOverdue(), g.GetClosed(), lineMicros(g.GetSetOffAt()))
	}
	return b.String() + gist(f)
}
