package render_test

import (
	"bytes"
	"strings"
	"testing"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"github.com/charmbracelet/x/ansi"
	"github.com/mattn/go-runewidth"
	"pgregory.net/rapid"
)

func TestTextNamesEverybody(t *testing.T) {
	for _, name := range rostertest.Names() {
		r := issue(t, name)
		for _, width := range []int{0, 40, 120} {
			// A long name may break over two lines of its column; in lines without breaks it must be whole.
			out := strings.Join(strings.Fields(text(t, r, render.TextOptions{Width: width, Part: render.RosterOnly})), " ")
			for _, rider := range rostertest.Riders(r) {
				for _, word := range strings.FieldsFunc(rider, func(c rune) bool { return c == ' ' || c == '-' }) {
					if !strings.Contains(out, word) {
						t.Errorf("%s at width %d: %q of %s is missing", name, width, word, rider)
					}
				}
			}
		}
	}
}

func TestTextKeepsWidth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		width := rapid.IntRange(40, 130).Draw(rt, "width")
		var b, coloured bytes.Buffer
		r := rostertest.Random(rt)
		opt := render.TextOptions{Width: width, Part: render.Part(rapid.IntRange(0, 2).Draw(rt, "part"))}
		if err := render.Text(&b, r, opt); err != nil {
			rt.Fatal(err)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if got := ansi.StringWidth(line); got > width {
				rt.Fatalf("%d columns wide, want at most %d: %q", got, width, line)
			}
		}
		if strings.ContainsAny(b.String(), "\x1b\r\t"+explicitBidi) {
			rt.Fatalf("text without colour holds escapes:\n%q", b.String())
		}
		opt.Colour = true
		if err := render.Text(&coloured, r, opt); err != nil {
			rt.Fatal(err)
		}
		if ansi.Strip(coloured.String()) != b.String() {
			rt.Fatal("colour changes the words")
		}
	})
}

func TestTextColumnsAlign(t *testing.T) {
	// go-runewidth is a second opinion on how wide a character is.
	r := issue(t, "night-lake")
	r.Placement.Groups[0].Rows = []*pb.Row{
		{Left: &pb.Rider{DisplayName: "田中 花"}, Right: &pb.Rider{DisplayName: "QQ"}},
		{Left: &pb.Rider{DisplayName: "Ann"}, Right: &pb.Rider{DisplayName: "QQ"}},
		{Left: &pb.Rider{DisplayName: "Zoë 🚲"}, Right: &pb.Rider{DisplayName: "QQ"}},
	}
	columns := map[int]bool{}
	for _, line := range strings.Split(text(t, r, render.TextOptions{}), "\n") {
		if before, _, found := strings.Cut(line, "QQ"); found {
			columns[runewidth.StringWidth(before)] = true
		}
	}
	if len(columns) != 1 {
		t.Errorf("the right column begins at %v", columns)
	}
}

func TestTextParts(t *testing.T) {
	r := issue(t, "winter-run")
	for _, c := range []struct {
		part           render.Part
		order, trouble bool
	}{{render.Both, true, true}, {render.RosterOnly, true, false}, {render.BriefOnly, false, true}} {
		out := text(t, r, render.TextOptions{Part: c.part})
		if strings.Contains(out, "[sent to the back: guards]") != c.order || strings.Contains(out, "If it goes wrong") != c.trouble {
			t.Errorf("part %d shows the wrong things", c.part)
		}
	}
}

// The plan tells on what a group's times rest, and both homes where past rides and pace alone differ.
func TestPlanTextRests(t *testing.T) {
	r := issue(t, "winter-run")
	early, late := r.GetPlan().GetGroups()[0].GetHomeAt(), r.GetPlan().GetGroups()[1].GetHomeAt()
	rides := make([]*pb.RecordedTime, 5)
	for i := range rides {
		rides[i] = &pb.RecordedTime{}
	}
	for _, c := range []struct {
		past *pb.PastTimes
		want string
	}{
		{nil, ""},
		{&pb.PastTimes{Used: true, RidesNeeded: 5, RestsOn: rides, Words: "5 rides since 12 Oct: 4 % slower than planned", ByPaceHomeAt: early, RefinedHomeAt: late},
			"Rests on 5 rides since 12 Oct: 4 % slower than planned. By pace alone: home 12:31.\n"},
		{&pb.PastTimes{RidesNeeded: 5, RestsOn: rides, Words: "5 rides since 12 Oct: 4 % slower than planned", ByPaceHomeAt: early, RefinedHomeAt: late},
			"By pace alone. Past rides would have it home 13:24 (5 rides since 12 Oct: 4 % slower than planned).\n"},
		{&pb.PastTimes{RidesNeeded: 5, RestsOn: rides[:2], Words: "not enough rides recorded: 2 of 5"}, "By pace alone; not enough rides recorded: 2 of 5.\n"},
	} {
		r.Plan.Groups[0].PastTimes = c.past
		var b strings.Builder
		if err := render.PlanText(&b, r.Plan, r.Zone, render.TextOptions{Width: 120}); err != nil {
			t.Fatal(err)
		}
		if c.want == "" == strings.Contains(b.String(), "y pace alone") || !strings.Contains(b.String(), c.want) {
			t.Errorf("%q is not told in\n%s", c.want, b.String())
		}
	}
}

func TestTextLightBars(t *testing.T) {
	out := text(t, issue(t, "winter-run"), render.TextOptions{})
	for _, want := range []string{
		"sky                                              ....:::\n",
		"Touring               ==============ooo=======++o###\n", // lights from 15:21, dark from 15:51, home 16:22
	} {
		if !strings.Contains(out, want) {
			t.Errorf("no line %q in\n%s", want, out)
		}
	}
}

func TestAssessmentText(t *testing.T) {
	as := []*pb.Assessment{
		{
			Bike: "clubs/a/members/b/bikes/blue", Group: "touring", Standing: pb.Standing_HELD, DeclarationRevision: 4, PolicyDigest: "3fa4c1d29b07e661",
			Findings: []*pb.Finding{
				{Rule: "kit", Standing: pb.Standing_ADVISED, Declared: "not declared", NotDeclared: true},
				{Rule: "tyre-gap", Standing: pb.Standing_ADVISED, Needed: "gap 4 mm", Declared: "gap 3 mm", Remedy: "Fit a narrower tyre.", Because: "told of worse only"},
				{Rule: "frame", Standing: pb.Standing_HELD, Declared: "not declared", NotDeclared: true},
				{Rule: "rear-light", Check: pb.Check_LIGHTS, Standing: pb.Standing_HELD, Needed: "one rear light for 205 min", Declared: "one rear light, 60 min", Remedy: "bring a second\x1b[2J", Because: "be seen", PolicyLine: 31},
				{Rule: "guards", Standing: pb.Standing_CLEAR},
			},
			NotApplied: []string{"ice-tyres: when ice", "clean: when wet"},
		},
		{
			Bike: "clubs/a/members/b/bikes/blue", Group: "brisk", Standing: pb.Standing_CLEAR, DeclarationRevision: 4, PolicyDigest: "3fa4c1d29b07e661",
			NotApplied: []string{"rear-light: when dark", "ice-tyres: when ice"},
		},
	}
	var b bytes.Buffer
	titles := render.Titles{Bikes: map[string]string{"clubs/a/members/b/bikes/blue": "blue winter bike"}, Groups: map[string]string{"touring": "Touring"}}
	if err := render.AssessmentText(&b, as, titles, render.TextOptions{}); err != nil {
		t.Fatal(err)
	}
	want := `blue winter bike in Touring: held, does not start until put right
  held  rear-light (policy line 31)
      needed    one rear light for 205 min
      declared  one rear light, 60 min
      remedy    bring a second[2J
      because   be seen
  advice  tyre-gap
      needed    gap 4 mm
      declared  gap 3 mm
      remedy    Fit a narrower tyre.
  Nothing declared for these rules, so they are not met; say in the bike file
  what is true of the bike:
    held  frame
    advice  kit
  Met: guards

blue winter bike in brisk: clear, every rule is met

Did not apply:
  - ice-tyres: when ice
  - clean: when wet (Touring)
  - rear-light: when dark (brisk)

Declaration 4, policy digest 3fa4c1d29b07
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

// TestAssessmentTextBrief: groups that say the same are told together, advice in a line, and what is met not at all; a
// rule on guards is not met by a bike without any.
func TestAssessmentTextBrief(t *testing.T) {
	one := func(group string) *pb.Assessment {
		return &pb.Assessment{Bike: "blue", Group: group, Standing: pb.Standing_ADVISED, Findings: []*pb.Finding{
			{Rule: "tyre-gap", Standing: pb.Standing_ADVISED, Needed: "gap 4 mm", Declared: "gap 3 mm", Remedy: "Fit a narrower tyre."},
			{Rule: "guards-secure", Standing: pb.Standing_CLEAR, Declared: "front: no guard; rear: no guard"},
			{Rule: "chain", Standing: pb.Standing_CLEAR, Declared: "chain 0.1 %"},
		}}
	}
	for brief, want := range map[bool]string{
		true: "blue in brisk, easy: advice, rides anywhere in the group\n  advice  tyre-gap: Fit a narrower tyre.\n",
		false: "blue in brisk, easy: advice, rides anywhere in the group\n  advice  tyre-gap\n      needed    gap 4 mm\n      declared  gap 3 mm\n" +
			"      remedy    Fit a narrower tyre.\n  Met: chain\n  Nothing on the bike to judge: guards-secure\n",
	} {
		var b bytes.Buffer
		if err := render.AssessmentText(&b, []*pb.Assessment{one("brisk"), one("easy")}, render.Titles{}, render.TextOptions{Brief: brief}); err != nil {
			t.Fatal(err)
		}
		if b.String() != want {
			t.Errorf("brief %v: got\n%s\nwant\n%s", brief, b.String(), want)
		}
	}
}

func TestAssessmentTextOfNothing(t *testing.T) {
	var b bytes.Buffer
	if err := render.AssessmentText(&b, []*pb.Assessment{nil}, render.Titles{}, render.TextOptions{}); err != nil {
		t.Fatal(err)
	}
	if want := "Bike without a name: not assessed, ask for an assessment\n"; b.String() != want {
		t.Errorf("got %q, want %q", b.String(), want)
	}
}

func BenchmarkText(b *testing.B) {
	r := issue(b, "winter-run")
	for b.Loop() {
		text(b, r, render.TextOptions{})
	}
}

// TestSpokenIsShown: text and page tell what each group's leader says aloud.
func TestSpokenIsShown(t *testing.T) {
	r := issue(t, "winter-run")
	told, page := text(t, r, render.TextOptions{Width: 200, Part: render.BriefOnly}), parse(t, html(t, r)).text
	for _, g := range r.Placement.Groups {
		if !strings.Contains(told, "Say at the start: "+g.Title) {
			t.Errorf("text has no heading for %s", g.Title)
		}
	}
	for _, spoken := range r.Brief.Spoken {
		for _, s := range spoken.Sentences {
			if !strings.Contains(told, s) || !strings.Contains(strings.ReplaceAll(page, "\u00a0", " "), s) {
				t.Errorf("%q is not told in text and page", s)
			}
		}
	}
}
