package policy

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	"gritward/internal/expression"
	"gritward/internal/readiness"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// Policy is a policy that was read without errors. It never changes, and may be used by many at once.
type Policy struct {
	message   *pb.Policy
	digest    string
	positions *strictyaml.Positions
	book      readiness.Book
	season    season
}

// Dark says when it counts as dark, and how long before and after that lights are wanted.
type Dark struct {
	Begins pb.Darkness_Begins
	Margin time.Duration
}

// Read reads a policy file. file is the name that problems carry. The policy is nil when any problem is an ERROR.
func Read(file string, data []byte) (*Policy, []*pb.Problem) {
	message := &pb.Policy{}
	positions, problems := strictyaml.Decode(file, data, message, options())
	if len(problems) > strictyaml.MaxProblems {
		return nil, problems
	}
	found, programs := check(message, positions, problems)
	problems = strictyaml.Sort(append(problems, found...))
	if slices.ContainsFunc(problems, isError) {
		return nil, problems
	}
	p := &Policy{message: message, digest: Digest(data), positions: positions}
	p.season, _ = readSeason(message.GetSeason()) // check has refused those that cannot be read
	p.book = readiness.Book{
		Rules:            rulesOf(message, positions, programs),
		Lamp:             message.GetLights(),
		DeclarationValid: message.GetDeclaration().GetValid().AsDuration(),
		Digest:           p.digest,
	}
	return p, problems
}

// Digest names a policy file: the SHA-256 of its bytes, hexadecimal.
func Digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func isError(problem *pb.Problem) bool { return problem.GetSeverity() != pb.Problem_WARNING }

func rulesOf(message *pb.Policy, positions *strictyaml.Positions, programs []*expression.Program) []readiness.Rule {
	rules := make([]readiness.Rule, 0, len(message.GetRules()))
	for i, rule := range message.GetRules() {
		rules = append(rules, readiness.NewCompiledRule(rule, positions.Line(rulePath(i)), programs[i]))
	}
	return rules
}

// Message is a copy of what the file says.
func (p *Policy) Message() *pb.Policy { return proto.CloneOf(p.message) }

// Title is what the club calls the policy.
func (p *Policy) Title() string { return p.message.GetTitle() }

// Digest is the SHA-256 of the file's bytes, hexadecimal.
func (p *Policy) Digest() string { return p.digest }

// Book is what the policy says to the checks. Its rules and their messages are shared: do not change them.
func (p *Policy) Book() readiness.Book { return p.book }

// Rules are the rules in the order of the file. Their messages are shared: do not change them.
func (p *Policy) Rules() []readiness.Rule { return slices.Clone(p.book.Rules) }

// Dark says when it counts as dark.
func (p *Policy) Dark() Dark {
	return Dark{p.message.GetDark().GetBegins(), p.message.GetDark().GetMargin().AsDuration()}
}

// RecordedTimes says what recorded times of past rides do to a plan: USE or SHOW.
func (p *Policy) RecordedTimes() pb.PaceReckoning_Recorded {
	if said := p.message.GetPace().GetRecordedTimes(); said != pb.PaceReckoning_RECORDED_UNSPECIFIED {
		return said
	}
	return pb.PaceReckoning_SHOW
}

// How long after the day of an incident it must be reported to the club's insurer, and how long its record is kept, where no
// policy says otherwise. Both common practice, no source.
const (
	DefaultReportWithin  = 14 * 24 * time.Hour
	DefaultIncidentsKept = 1095 * 24 * time.Hour
)

// ReportWithin is how long after the day of an incident it must be reported to the club's insurer.
func (p *Policy) ReportWithin() time.Duration {
	return orUsual(p.message.GetIncidents().GetReportWithin(), DefaultReportWithin)
}

// IncidentsKept is how long after the day of an incident its record is kept.
func (p *Policy) IncidentsKept() time.Duration {
	return orUsual(p.message.GetIncidents().GetKept(), DefaultIncidentsKept)
}

// PoorVisibilityBelowM is the visibility below which it is poor, m.
func (p *Policy) PoorVisibilityBelowM() float64 { return p.message.GetPoorVisibilityBelowM() }

// Groups are the sizes and roles of groups; a copy.
func (p *Policy) Groups() *pb.GroupLimits { return proto.CloneOf(p.message.GetGroups()) }

// CallOff are the limits at which a ride should not start without a written reason; a copy. Limits left out are not
// used; nil: none is.
func (p *Policy) CallOff() *pb.CallOff {
	if p.message.GetCallOff() == nil {
		return nil
	}
	return proto.CloneOf(p.message.GetCallOff())
}

// RollCall is how long after the planned time home riders are overdue; usual where the policy does not say.
func (p *Policy) RollCall(usual time.Duration) time.Duration {
	return orUsual(p.message.GetRollCall().GetGrace(), usual)
}

// SecretaryAfter is how much later the secretaries are told; usual where the policy does not say.
func (p *Policy) SecretaryAfter(usual time.Duration) time.Duration {
	return orUsual(p.message.GetRollCall().GetThenSecretary(), usual)
}

func orUsual(stated *durationpb.Duration, usual time.Duration) time.Duration {
	if stated == nil {
		return usual
	}
	return stated.AsDuration()
}
