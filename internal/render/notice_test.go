package render_test

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/brief"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// inOneLine undoes the breaking of lines.
func inOneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// TestCalledOffComesFirst holds every form to saying first that nobody should go.
func TestCalledOffComesFirst(t *testing.T) {
	r := issue(t, "winter-run")
	r.Ride.State, r.Ride.CallOffReason = pb.Ride_CALLED_OFF, "Black ice on the lanes."
	r.Brief = brief.Compose(r)
	const want = "CALLED OFF by Ann Aske: Black ice on the lanes. Do not go."
	for _, part := range []render.Part{render.Both, render.RosterOnly, render.BriefOnly} {
		if got := text(t, r, render.TextOptions{Part: part}); !strings.HasPrefix(got, want+"\n") {
			t.Errorf("part %d begins %.80q", part, got)
		}
	}
	if got := r.Brief.Sections[0].Lines[0]; got != want || !r.Brief.Sections[0].Urgent {
		t.Errorf("the brief begins %q", got)
	}
	doc := html(t, r)
	_, body, _ := strings.Cut(doc, "<body>")
	if words := inOneLine(regexp.MustCompile("<[^>]*>").ReplaceAllString(body, "")); !strings.HasPrefix(words, "! "+want) {
		t.Errorf("the page begins %.80q", words)
	}
	if !strings.Contains(doc, "<title>CALLED OFF: ") || !strings.Contains(doc, `@top-center { content: "CALLED OFF. Do not go.";`) {
		t.Error("title or the head of each printed sheet do not say it")
	}
	if strings.Contains(doc, "Read this first") {
		t.Error("something else is to be read first")
	}
	if !strings.Contains(svg(t, r), ">"+want+"<") {
		t.Error("the picture does not say it")
	}
}

func TestSinceComesFirst(t *testing.T) {
	r := issue(t, "first-light")
	got := text(t, r, render.TextOptions{Part: render.BriefOnly})
	if want := "! Changed since this issue: Bram Tarn has withdrawn.\n! Changed since this issue: The weather expected has changed.\n\n"; !strings.HasPrefix(got, want) {
		t.Errorf("the text begins %.100q", got)
	}
	p := parse(t, html(t, r))
	if since, club := strings.Index(p.text, "Changed since this issue: Bram Tarn"), strings.LastIndex(p.text[:strings.Index(p.text, "Meet at")], r.ClubTitle); since < 0 || since > club {
		t.Errorf("the page tells the changes at %d, the club at %d", since, club)
	}
}

func TestDraft(t *testing.T) {
	r := issue(t, "winter-run")
	r.Number, r.PublishedAt, r.PublishedBy, r.PolicyTitle, r.Ride.RosterNumber = 0, nil, "", "", 2
	for form, got := range map[string]string{"text": text(t, r, render.TextOptions{}), "page": parse(t, html(t, r)).text} {
		if !strings.Contains(got, "Draft, not published; would be issue 3") || !strings.Contains(got, "Ride leader Ann Aske") {
			t.Errorf("the %s does not tell the draft", form)
		}
		for _, not := range []string{"Issue 0", "issue 0", "without a title", "number 3, digest"} {
			if strings.Contains(got, not) {
				t.Errorf("the %s of a draft has %q", form, not)
			}
		}
	}
}

// TestDawn tells a ride out of the dark by its start. Sunrise 08:45:24 and a margin of 30 min: lights until 09:15:24, and
// without from the next full minute.
func TestDawn(t *testing.T) {
	r := issue(t, "first-light")
	got := inOneLine(text(t, r, render.TextOptions{}))
	for _, want := range []string{
		"07:15 to 11:02; starts 1 h 30 min before sunrise; lights until 09:15 (2 h, 1 h 31 min of it dark). Without lights: start between 09:16 and 11:27.",
		"05:00 to 07:35; dark all the way, sunrise 08:45; lights for 2 h 35 min.",
		"Dawn starts at 07:15, 1 h 30 min before sunrise, and is home at 11:02. It needs lights for 2 h, from the start until 09:15. Without lights it would have to start between 09:16 and 11:27.",
		"Owls rides in the dark all the way, from 05:00 to 07:35.",
		"sunrise, dark ends 08:45; lights until 09:15.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the text does not tell %q", want)
		}
	}
	for _, want := range []string{">lights until 09:15<", ">sunrise, dark ends 08:45<", ">05:00–07:35, dark all the way, 2 h 35 min lit<", ">07:15–11:02, lights until 09:15, 2 h lit<"} {
		if !strings.Contains(svg(t, r), want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
}

func TestStartWords(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*pb.Roster)
		want   string
	}{
		{"no start does without", func(r *pb.Roster) { r.Plan.DarkEndsAt.Seconds += 3 * 3600 }, "Without lights: no start that day."},
		{"no margin", func(r *pb.Roster) { r.Plan.Margin.Seconds, r.Plan.DarkEndsAt = 0, nil }, "Start by 11:27 to be home before dark."},
		{"margin not known", func(r *pb.Roster) { r.Plan.Margin, r.Plan.DarkEndsAt = nil, nil }, "Start by 11:27 to be home with the club's margin before dark."},
		{"lights at any hour in fog", func(r *pb.Roster) {
			p := r.Placement.Groups[0].Plan
			p.Circumstances = append(p.Circumstances, pb.Circumstance_POOR_VISIBILITY)
		}, "Start by 11:27 to be home 30 min before dark."},
		{"past already", func(r *pb.Roster) {
			p := r.Placement.Groups[0].Plan
			p.Circumstances = append(p.Circumstances, pb.Circumstance_POOR_VISIBILITY)
			p.StartAt.Seconds = p.LatestStartAt.Seconds + 60
		}, "It would have to start by 11:27 to be home 30 min before dark."},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := issue(t, "first-light")
			c.change(r)
			if got := inOneLine(text(t, r, render.TextOptions{Part: render.RosterOnly})); !strings.Contains(got, c.want) {
				t.Errorf("no %q in\n%s", c.want, got)
			}
		})
	}
}

// TestStandingsSideBySide keeps the standings of a row in one line however long the names are.
func TestStandingsSideBySide(t *testing.T) {
	got := text(t, issue(t, "first-light"), render.TextOptions{})
	if want := "        [clear] 6 km/h above own pace         [advice: second rear]\n"; !strings.Contains(got, want) {
		t.Errorf("no line %q in\n%s", want, got)
	}
}

// TestLinesBreakElsewhere looks for lines that end between a number and its unit or inside a date.
func TestLinesBreakElsewhere(t *testing.T) {
	torn := regexp.MustCompile(`(?m)\d\n *(km/h|km|m|min|h|°C|%)\b|\b(Sunday|Saturday|Friday|\d{1,2})\n *(\d+ )?December|December\n *20\d\d|\d h\n *\d+ min`)
	for _, name := range []string{"winter-run", "first-light"} {
		for width := 40; width <= 120; width++ {
			out := text(t, issue(t, name), render.TextOptions{Width: width})
			if at := torn.FindStringIndex(out); at != nil {
				t.Errorf("%s at width %d: %q", name, width, out[max(0, at[0]-30):min(len(out), at[1]+10)])
			}
		}
	}
}

func TestWhoStandsWorse(t *testing.T) {
	const advised, back, held = pb.Standing_ADVISED, pb.Standing_BACK, pb.Standing_HELD
	for _, c := range []struct {
		after []pb.Standing
		want  string
	}{
		{[]pb.Standing{held}, "If it starts after 11:30, A is held in it."},
		{[]pb.Standing{advised, held, back}, "If it starts after 11:30, B is held in it, C is sent to the back, A rides with advice."},
		{[]pb.Standing{advised, held, back, advised}, "If it starts after 11:30, 4 riders stand worse, 1 of them is held in it: B."},
		{[]pb.Standing{advised, held, held, back, advised}, "If it starts after 11:30, 5 riders stand worse, 2 of them are held in it: B, C."},
		{[]pb.Standing{back, back, back, back, back}, "If it starts after 11:30, 5 riders are sent to the back: A, B, C, 2 more."},
	} {
		r := issue(t, "winter-run")
		limit := &pb.StartLimit{LatestStartAt: timestamppb.New(time.Date(2015, 12, 12, 11, 30, 59, 0, time.UTC))}
		for i, after := range c.after {
			limit.Worse = append(limit.Worse, &pb.Worsening{DisplayName: string(rune('A' + i)), After: after})
		}
		r.Placement.Groups[0].StartLimit = limit
		if got := text(t, r, render.TextOptions{Width: 200}); !strings.Contains(got, c.want) {
			t.Errorf("%v: %q is not told", c.after, c.want)
		}
	}
}
