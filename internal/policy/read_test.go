package policy_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/policy"
	"gritward/internal/readiness"
	"gritward/internal/strictyaml"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

func winter(t testing.TB) *policy.Policy {
	t.Helper()
	p, problems := policy.Read("winter.yaml", policyfile.Winter)
	if len(problems) > 0 || p == nil {
		t.Fatalf("problems:\n%s", strictyaml.Format(problems))
	}
	return p
}

// TestWinter reads the policy that the project ships: no error, no warning, and what its text says.
func TestWinter(t *testing.T) {
	p := winter(t)
	if sum := fmt.Sprintf("%x", sha256.Sum256(policyfile.Winter)); p.Digest() != sum || p.Book().Digest != sum {
		t.Errorf("digest %s, want %s", p.Digest(), sum)
	}
	if got, want := p.Dark(), (policy.Dark{Begins: pb.Darkness_SUNSET, Margin: 30 * time.Minute}); got != want {
		t.Errorf("dark %v", got)
	}
	if p.PoorVisibilityBelowM() != 100 || p.Groups().GetSize().GetMax() != 12 || p.CallOff().GetGustAboveKmh() != 70 || p.CallOff().GetFeelsLikeBelowC() != -8 {
		t.Errorf("%v", p.Message())
	}
	if p.Book().DeclarationValid != 28*24*time.Hour || p.Book().Lamp.GetReserve().AsDuration() != 30*time.Minute {
		t.Errorf("%v", p.Book())
	}
	lines := strings.Split(string(policyfile.Winter), "\n")
	for _, rule := range p.Rules() {
		if got, want := lines[rule.Line-1], "  - id: "+rule.GetId(); got != want {
			t.Errorf("rule %s is said to be on line %d, which is %q", rule.GetId(), rule.Line, got)
		}
	}
}

// TestWinterIsPlain: the file that secretaries edit has no tab and no long line.
func TestWinterIsPlain(t *testing.T) {
	for i, line := range bytes.Split(policyfile.Winter, []byte("\n")) {
		if len(line) > 120 || bytes.ContainsAny(line, "\t\r") {
			t.Errorf("line %d: %q", i+1, line)
		}
	}
}

// TestImmutable: what the policy hands out does not lead back into it.
func TestImmutable(t *testing.T) {
	p := winter(t)
	p.Message().Title = "x"
	p.Groups().BackPlaces = 99
	p.CallOff().Ice = 0
	p.Rules()[0] = readiness.Rule{}
	if p.Message().GetTitle() != "Winter readiness" || p.Groups().GetBackPlaces() != 3 || p.CallOff().GetIce() != pb.CallOff_LIKELY ||
		p.Rules()[0].Rule == nil {
		t.Error("the policy was changed from outside")
	}
}

// TestWinterJudges: the shipped policy, end to end: the same bike is clear in a group home early and held in a late one.
func TestWinterJudges(t *testing.T) {
	p, start := winter(t), time.Date(2026, time.December, 13, 9, 0, 0, 0, time.UTC)
	text, err := os.ReadFile("../../testdata/readiness/whole-bike.yaml")
	if err != nil {
		t.Fatal(err)
	}
	facts := &pb.BikeFacts{}
	if _, problems := strictyaml.Decode("whole-bike.yaml", text, facts, strictyaml.Options{What: "bike"}); len(problems) > 0 {
		t.Fatal(strictyaml.Format(problems))
	}
	facts.Lights = facts.Lights[:2]
	facts.Lights[1].RuntimeMin = new(60.0)
	bike := readiness.Subject{Declaration: &pb.Declaration{CertifiedAt: timestamppb.New(start.Add(-24 * time.Hour)), Facts: facts}}
	for _, c := range []struct {
		litMin        float64
		want          pb.Standing
		circumstances []pb.Circumstance
	}{
		{0, pb.Standing_CLEAR, []pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_SEASON}},
		{30, pb.Standing_ADVISED, []pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_SEASON, pb.Circumstance_DARK}}, // a second rear light
		{145, pb.Standing_HELD, []pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_SEASON, pb.Circumstance_DARK}},
	} {
		plan := &pb.GroupPlan{Group: "g", StartAt: timestamppb.New(start), LitMin: c.litMin, Circumstances: c.circumstances}
		if a := readiness.Assess(p.Book(), bike, plan, start); a.GetStanding() != c.want {
			t.Errorf("%v min with lights: %v, want %v: %v", c.litMin, a.GetStanding(), c.want, a)
		}
	}
}

func TestTooLarge(t *testing.T) {
	data := append(bytes.Clone(policyfile.Winter), bytes.Repeat([]byte("# more\n"), 160_000)...) // 1.1 MiB
	p, problems := policy.Read("p.yaml", data)
	if p != nil || len(problems) != 1 || !strings.Contains(problems[0].GetMessage(), "1 MiB") || problems[0].GetLine() != 0 {
		t.Errorf("%v", problems)
	}
}

// TestManyRules: a policy of 10,000 rules is read; one rule more is refused.
func TestManyRules(t *testing.T) {
	text := func(n int) []byte {
		var b bytes.Buffer
		head, _, _ := bytes.Cut(policyfile.Winter, []byte("\nrules:\n"))
		b.Write(head)
		b.WriteString("\nrules:\n")
		for i := range n {
			fmt.Fprintf(&b, "- {id: r%d, check: lights, when: dark, need: {front: 1, rear: 1}, otherwise: hold}\n", i)
		}
		return b.Bytes()
	}
	if p, problems := policy.Read("p.yaml", text(10_000)); p == nil || len(p.Rules()) != 10_000 {
		t.Fatalf("%s", strictyaml.Format(problems))
	}
	p, problems := policy.Read("p.yaml", text(10_001))
	if p != nil || len(problems) != 1 || !strings.Contains(problems[0].GetMessage(), "10001 entries, at most 10000") {
		t.Fatalf("%s", strictyaml.Format(problems))
	}
}

// FuzzRead: no file crashes the reader; a policy comes without errors, with lines that exist and rules that can be used.
func FuzzRead(f *testing.F) {
	f.Add(policyfile.Winter)
	files, _ := os.ReadDir(casesDir)
	for _, file := range files {
		if strings.HasSuffix(file.Name(), ".yaml") {
			data, err := os.ReadFile(casesDir + "/" + file.Name())
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, problems := policy.Read("p.yaml", data)
		errors := 0
		for _, problem := range problems {
			if problem.GetSeverity() == pb.Problem_ERROR {
				errors++
			}
		}
		strictyaml.Format(problems)
		if (p == nil) != (errors > 0) {
			t.Fatalf("policy %v, %d errors", p != nil, errors)
		}
		if p == nil {
			return
		}
		for _, rule := range p.Rules() {
			if rule.Line < 1 || rule.Line > bytes.Count(data, []byte("\n"))+1 {
				t.Fatalf("line %d", rule.Line)
			}
		}
		p.InSeason(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC), time.UTC) //nolint:errcheck // an error is an answer here
		readiness.Assess(p.Book(), readiness.Subject{}, nil, time.Unix(0, 0))
	})
}

func BenchmarkReadWinter(b *testing.B) {
	b.SetBytes(int64(len(policyfile.Winter)))
	for b.Loop() {
		policy.Read("winter.yaml", policyfile.Winter)
	}
}

// BenchmarkReadManyRules reads a policy of 10,000 rules, of all checks and all different.
func BenchmarkReadManyRules(b *testing.B) {
	head, _, _ := bytes.Cut(policyfile.Winter, []byte("\nrules:\n"))
	text := bytes.NewBuffer(append(bytes.Clone(head), "\nrules:\n"...))
	for i := range 2_500 {
		fmt.Fprintf(text, "- {id: a%d, check: lights, when: dark, need: {front: 1, rear: 1, front_lumens: %dlm}, otherwise: hold}\n", i, i+1)
		fmt.Fprintf(text, "- {id: b%d, check: tyres, when: [wet, ice], need: {width_min: %g mm}, otherwise: back}\n", i, 20+float64(i)/100)
		fmt.Fprintf(text, "- {id: c%d, check: brakes, when: season, need: {disc_pad: %gmm}, otherwise: hold}\n", i, 0.5+float64(i)/1000)
		fmt.Fprintf(text, "- {id: d%d, check: chain, when: season, need: {lubricated_within: %dd}, otherwise: advise}\n", i, 1+i%400)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if p, problems := policy.Read("p.yaml", text.Bytes()); p == nil {
			b.Fatal(strictyaml.Format(problems))
		}
	}
}
