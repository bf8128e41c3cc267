package web

import (
	"strconv"

	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// mostChanges is how many changes of each kind a preview lists.
const mostChanges = 100

// previewView is whom a policy file would affect.
type previewView struct {
	*pb.PreviewPolicyResponse
	Bikes, Riders []previewChange
	// Rules counts the changes that each rule makes.
	Rules string
	// MoreBikes and MoreRiders are how many are not listed.
	MoreBikes, MoreRiders int
}

// previewChange is a bike whose standing would change, as a person reads it.
type previewChange struct {
	phrase.Change
	Whose, Title, RideTitle string
}

// Where is in which groups, or on which kind of day.
func (c previewChange) Where() string { return phrase.List(c.Groups) }

// preview asks whom the file would affect.
func (v *visit) preview(shown *editView, from string) error {
	answer, err := v.policies.PreviewPolicy(v.ctx, &pb.PreviewPolicyRequest{Parent: v.club(), File: shown.Name,
		Content: []byte(shown.Text), EffectiveFrom: from, Most: mostChanges})
	if err != nil {
		return err
	}
	whose, bikes, rides, err := v.namesForPreview()
	if err != nil {
		return err
	}
	told := func(changes []phrase.Change) (all []previewChange) {
		for _, change := range changes {
			owner := names.Member(names.Part(change.Bike, "clubs"), names.Part(change.Bike, "members"))
			all = append(all, previewChange{change, phrase.FirstOf(whose[owner], names.Last(owner)),
				phrase.FirstOf(bikes[change.Bike], names.Last(change.Bike)), rides[change.Ride]})
		}
		return all
	}
	ofBikes, ofRiders := phrase.Changes(answer.Bikes), phrase.Changes(answer.Riders)
	made := &previewView{PreviewPolicyResponse: answer, Bikes: told(ofBikes), Riders: told(ofRiders), Rules: phrase.ByRule(append(ofBikes, ofRiders...))}
	listed := map[string]bool{}
	for _, change := range ofBikes {
		listed[change.Bike] = true
	}
	made.MoreBikes, made.MoreRiders = int(answer.BikesChanged)-len(listed), int(answer.RidersChanged)-len(answer.Riders)
	shown.Preview = made
	return v.lookForNewer(shown)
}

// lookForNewer tells whether another policy was adopted since.
func (v *visit) lookForNewer(shown *editView) (err error) {
	shown.Last, err = v.newestPolicy()
	shown.Meanwhile = shown.Last != shown.Newest
	return err
}

// namesForPreview are what members, bikes and rides are called.
func (v *visit) namesForPreview() (whose, bikes, rides map[string]string, err error) {
	all, err := v.everyone()
	if err != nil {
		return nil, nil, nil, err
	}
	listed, err := pages(func(token string) ([]*pb.Bike, string, error) {
		answer, err := v.bikes.ListBikes(v.ctx, &pb.ListBikesRequest{Parent: names.Member(names.Last(v.club()), names.Any), PageSize: most, PageToken: token})
		return answer.GetBikes(), answer.GetNextPageToken(), err
	})
	if err != nil {
		return nil, nil, nil, err
	}
	bikes, rides = map[string]string{}, map[string]string{}
	for _, bike := range listed {
		bikes[bike.Name] = bike.GetDeclaration().GetFacts().GetTitle()
	}
	planned, err := v.rides.ListRides(v.ctx, &pb.ListRidesRequest{Parent: v.club(), PageSize: most})
	for _, ride := range planned.GetRides() {
		rides[ride.Name] = ride.Title
	}
	return called(all), bikes, rides, err
}

// adopt adopts the file that was previewed.
func (v *visit) adopt(shown editView, from string) error {
	known, err := strconv.ParseInt(shown.Newest, 10, 32)
	if err != nil {
		known = 0
	}
	_, err = v.policies.AdoptPolicy(v.ctx, &pb.AdoptPolicyRequest{Parent: v.club(), File: shown.Name, Content: []byte(shown.Text), EffectiveFrom: from,
		Note: v.form().Get("note"), RequestId: v.form().Get("once"), NewestKnown: proto.Int32(int32(known))})
	if err == nil {
		return v.to("/"+v.club()+"/policies", "policy-adopted")
	}
	if newerErr := v.lookForNewer(&shown); newerErr != nil {
		return newerErr
	}
	v.refuse(err, "policyedit", "Edit the policy", shown)
	return nil
}

// restoreView asks whether an earlier policy is to count again.
type restoreView struct {
	Revision *pb.PolicyRevision
	Newest   string
}

func (v *visit) restoreSeen() (shown restoreView, err error) {
	if err := v.mustKeep(); err != nil {
		return shown, err
	}
	if shown.Revision, err = v.policies.GetPolicy(v.ctx, &pb.GetPolicyRequest{Name: v.policyName()}); err != nil {
		return shown, err
	}
	shown.Newest, err = v.newestPolicy()
	return shown, err
}

// policyRestoreAsk asks from when an earlier policy is to count again.
func (v *visit) policyRestoreAsk() error {
	shown, err := v.restoreSeen()
	if err != nil {
		return err
	}
	return v.view("policyrestore", "Restore policy "+strconv.Itoa(int(shown.Revision.Number)), shown)
}

// policyRestore adopts an earlier policy again.
func (v *visit) policyRestore() error {
	request := &pb.RestorePolicyRequest{Name: v.policyName(), RequestId: v.form().Get("once"),
		EffectiveFrom: v.form().Get("effective_from"), Note: v.form().Get("note")}
	if known, err := strconv.ParseInt(v.form().Get("newest"), 10, 32); err == nil {
		request.NewestKnown = proto.Int32(int32(known))
	}
	_, err := v.policies.RestorePolicy(v.ctx, request)
	if err == nil {
		return v.to("/"+v.club()+"/policies", "policy-adopted")
	}
	shown, seenErr := v.restoreSeen()
	if seenErr != nil {
		return err
	}
	v.refuse(err, "policyrestore", "Restore policy "+strconv.Itoa(int(shown.Revision.Number)), shown)
	return nil
}
