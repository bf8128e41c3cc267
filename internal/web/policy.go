package web

import (
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *site) policyRoutes() {
	s.show("GET /clubs/{club}/policies", (*visit).policyInForce)
	s.show("GET /clubs/{club}/policies/{policy}", (*visit).policyNumbered)
	s.show("GET /clubs/{club}/policies/{policy}/file", (*visit).policyFile)
	s.show("GET /clubs/{club}/policies/{policy}/restore", (*visit).policyRestoreAsk)
	s.take("/clubs/{club}/policies/{policy}/restore", (*visit).policyRestore)
	s.show("GET /clubs/{club}/policies/compare", (*visit).policyCompare)
	s.show("GET /clubs/{club}/policies/edit", (*visit).policyEdit)
	s.takeFile("/clubs/{club}/policies/edit", (*visit).policyEdited)
	s.take("/clubs/{club}/policies/check", (*visit).policyCheck)
}

// policyView is a policy told in words beside its file, with the history of all.
type policyView struct {
	// Revision is nil where no policy was adopted yet.
	Revision *pb.PolicyRevision
	Words    policyWords
	// Problems are what is doubtful about it, or wrong where it was written for an earlier version.
	Problems []*pb.Problem
	History  []*pb.PolicyRevision
	Called   map[string]string
	// Now: it is the one in force today.
	Now bool
	// Folder is why the file in the server's policy folder is not adopted.
	Folder []*pb.Problem
}

// policyWords is a policy in words beside its file, and what of it stands on the page.
type policyWords struct {
	text     string
	Passages []*pb.PolicyPassage
	// History: the page goes on with the history.
	History bool
}

// Whole is all that is told of a policy.
func (p policyWords) Whole() (string, error) {
	from := []any{p.text, strconv.FormatBool(p.History), &pb.CheckPolicyResponse{Passages: p.Passages}}
	digest, err := drawnFrom(from)
	return string(digest[:]), err
}

// Parts are what the policy says, one after the other.
func (p policyWords) Parts() []policyPart { return policyParts(p.text, p.Passages) }

// policyPart is a setting or a rule, in words and as the file writes it.
type policyPart struct {
	*pb.PolicyPassage
	Title string
	Lines []fileLine
}

// fileLine is a line of a file.
type fileLine struct {
	Number int
	Text   string
}

// policyTitles are what settings are called.
var policyTitles = map[string]string{"title": "Title", "season": "Season", "dark": "Dark", "lights": "Lamps", "poor_visibility_below": "Poor visibility",
	"groups": "Groups", "pace": "Recorded times", "privacy": "What is kept of people", "roll_call": "Roll call", "incidents": "Incidents",
	"declaration": "Declarations", "call_off": "Calling a ride off", "rules": "The rules"}

// Term tells for which rides a policy counts.
func (policyView) Term(of *pb.PolicyRevision) string { return phrase.PolicyTerm(of) }

// By is who adopted a policy.
func (p policyView) By(of *pb.PolicyRevision) string {
	return phrase.FirstOf(p.Called[of.GetAdoptedBy()], "the server")
}

// Before is the number of the revision before one; 0 for the first.
func (policyView) Before(of *pb.PolicyRevision) int32 { return of.GetNumber() - 1 }

// Next is the number of the revision after the one of that number.
func (policyView) Next(number int32) int32 { return number + 1 }

// Anchor is where a heading of the rules stands on the page.
func (policyWords) Anchor(heading string) string {
	return "h-" + strings.Trim(notInAnchors.ReplaceAllString(strings.ToLower(heading), "-"), "-")
}

var notInAnchors = regexp.MustCompile(`[^a-z0-9]+`)

// Several tells whether there are two to compare.
func (p policyView) Several() bool { return len(p.History) > 1 }

// policyInForce tells the policy that is in force today.
func (v *visit) policyInForce() error { return v.policyTold(v.club() + "/policies/" + names.Any) }

// policyNumbered tells a policy that was adopted once.
func (v *visit) policyNumbered() error { return v.policyTold(v.policyName()) }

// policyName is the name of the policy that the path names.
func (v *visit) policyName() string {
	return "clubs/" + v.r.PathValue("club") + "/policies/" + v.r.PathValue("policy")
}

func (v *visit) policyTold(name string) error {
	listed, err := v.policies.ListPolicies(v.ctx, &pb.ListPoliciesRequest{Parent: v.club()})
	if err != nil {
		return err
	}
	shown := policyView{History: listed.Policies, Folder: listed.FolderProblems, Now: names.Last(name) == names.Any}
	all, err := v.everyone()
	if err != nil {
		return err
	}
	shown.Called = called(all)
	shown.Revision, err = v.policies.GetPolicy(v.ctx, &pb.GetPolicyRequest{Name: name})
	switch {
	case err != nil && fault.Read(err).Reason == pb.Reason_NO_POLICY:
		return v.view("policy", "Policy", shown)
	case err != nil:
		return err
	}
	checked, err := v.policies.CheckPolicy(v.ctx, &pb.CheckPolicyRequest{Parent: v.club(), File: shown.Revision.File, Content: []byte(shown.Revision.Text)})
	if err != nil {
		return err
	}
	shown.Problems, shown.Words = checked.Problems, policyWords{shown.Revision.Text, checked.Passages, len(shown.History) > 0}
	return v.view("policy", "Policy", shown)
}

// policyParts puts the lines of the file beside what is told of them. Comments are told in words already, but for those at
// the end.
func policyParts(text string, passages []*pb.PolicyPassage) []policyPart {
	lines := strings.Split(text, "\n")
	var parts []policyPart
	for _, passage := range passages {
		part := policyPart{PolicyPassage: passage, Title: phrase.FirstOf(policyTitles[passage.Key], phrase.RuleTitle(passage.Rule))}
		about := part.Title != ""
		switch {
		case about:
		case passage.FirstLine == 1:
			part.Title, about = "About the file", true
		default:
			part.Title = "Notes at the end"
		}
		for n := max(int(passage.FirstLine), 1); n <= min(int(passage.LastLine), len(lines)); n++ {
			line := strings.TrimRight(lines[n-1], "\r")
			bare := strings.TrimSpace(line)
			if bare == "" || about && strings.HasPrefix(bare, "#") {
				continue
			}
			part.Lines = append(part.Lines, fileLine{n, line})
		}
		parts = append(parts, part)
	}
	return parts
}

// policyFile gives the file as it was adopted.
func (v *visit) policyFile() error {
	revision, err := v.policies.GetPolicy(v.ctx, &pb.GetPolicyRequest{Name: v.policyName()})
	if err != nil {
		return err
	}
	v.download("policy-"+strconv.Itoa(int(revision.Number))+".yaml", "application/yaml; charset=utf-8", []byte(revision.Text))
	return nil
}

// download has the browser keep a file.
func (v *visit) download(name, kind string, content []byte) {
	v.w.Header().Set("Content-Type", kind)
	v.w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	v.w.WriteHeader(http.StatusOK)
	_, _ = v.w.Write(content)
}

// compareView is what differs between two policies.
type compareView struct {
	Earlier, Later string
	Differences    []*pb.PolicyDifference
	History        []*pb.PolicyRevision
}

func (c compareView) filled(form *Form) {
	form.with(map[string][]string{"earlier": {c.Earlier}, "later": {c.Later}})
}

// Choose asks for one of the policies.
func (c compareView) Choose(form Form, name, label string) Field {
	var pairs []string
	for _, one := range c.History {
		number := strconv.Itoa(int(one.Number))
		pairs = append(pairs, number, number+", from "+phrase.Day(one.EffectiveFrom))
	}
	return form.Select(name, label, "", pairs...)
}

// Kind is the kind of a difference in a word.
func (compareView) Kind(d *pb.PolicyDifference) string {
	return map[pb.PolicyDifference_Kind]string{pb.PolicyDifference_ADDED: "added", pb.PolicyDifference_REMOVED: "removed",
		pb.PolicyDifference_CHANGED: "changed", pb.PolicyDifference_MOVED: "moved"}[d.GetKind()]
}

// policyCompare tells what differs between two policies.
func (v *visit) policyCompare() error {
	asked := v.r.URL.Query()
	listed, err := v.policies.ListPolicies(v.ctx, &pb.ListPoliciesRequest{Parent: v.club()})
	if err != nil {
		return err
	}
	shown := compareView{Earlier: asked.Get("earlier"), Later: asked.Get("later"), History: listed.Policies}
	if shown.Earlier != "" && shown.Later != "" {
		answer, err := v.policies.ComparePolicies(v.ctx, &pb.ComparePoliciesRequest{
			Name: v.club() + "/policies/" + shown.Earlier, Other: v.club() + "/policies/" + shown.Later})
		if err != nil {
			return err
		}
		shown.Differences = answer.Differences
	}
	return v.view("policycompare", "Compare policies", shown)
}
