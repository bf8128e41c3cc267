package server

import (
	"context"
	"errors"
	"fmt"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	pb "gritward/proto/gritward/v1"
)

type policyService struct {
	pb.UnsafePolicyServiceServer
	*desk
	folder *PolicyFolder
}

// CheckPolicy implements PolicyService.
func (s *policyService) CheckPolicy(ctx context.Context, request *pb.CheckPolicyRequest) (*pb.CheckPolicyResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	var response *pb.CheckPolicyResponse
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		_, zone, err := s.zone(tx)
		if err != nil {
			return err
		}
		digest := ledger.Digest(request.Content)
		response, err = s.checks.get(digest+" "+zone.String()+" "+request.File, func() (*pb.CheckPolicyResponse, error) {
			made := &pb.CheckPolicyResponse{Digest: digest}
			read, problems, err := s.readPolicy(tx, request.File, request.Content)
			made.Problems, made.Usable = problems, read != nil
			if read != nil {
				made.Passages = read.Tell()
			}
			return made, err
		})
		return err
	})
	return response, err
}

// readPolicy reads a policy file for the club, its zone included; nil when it has errors.
func (d *desk) readPolicy(tx *ledger.Tx, file string, content []byte) (*policy.Policy, []*pb.Problem, error) {
	_, zone, err := d.zone(tx)
	if err != nil {
		return nil, nil, err
	}
	read, problems := policy.Read(file, content)
	if read == nil {
		return nil, problems, nil
	}
	problems = append(problems, read.CheckZone(zone)...)
	for _, problem := range problems {
		if problem.Severity == pb.Problem_ERROR {
			return nil, problems, nil
		}
	}
	return read, problems, nil
}

// AdoptPolicy implements PolicyService.
func (s *policyService) AdoptPolicy(ctx context.Context, request *pb.AdoptPolicyRequest) (*pb.PolicyRevision, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	var revision *pb.PolicyRevision
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "AdoptPolicy", Message: request}
	err := s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			if revision, err = policyByName(tx, names.Last(made)); err != nil {
				return err
			}
			return term(tx, revision)
		}
		if revision, err = s.adopt(tx, audit(who, "PolicyService/AdoptPolicy", "", ""), request); err != nil {
			return err
		}
		return tx.Answer(asked, revision.Name)
	})
	if err != nil {
		return nil, err
	}
	return revision, nil
}

// adopt writes the next revision of the policy, if the file has no errors. The entry says who does it.
func (d *desk) adopt(tx *ledger.Tx, entry *pb.AuditEntry, request *pb.AdoptPolicyRequest) (*pb.PolicyRevision, error) {
	read, problems, err := d.readPolicy(tx, request.File, request.Content)
	if err != nil {
		return nil, err
	}
	if read == nil {
		return nil, policyFault(problems)
	}
	_, zone, err := d.zone(tx)
	if err != nil {
		return nil, err
	}
	from := tx.Now.In(zone).Format(civil.DateLayout)
	if request.EffectiveFrom != "" {
		day, err := civil.Date("effective_from", request.EffectiveFrom)
		if err != nil {
			return nil, err
		}
		if request.EffectiveFrom < from {
			return nil, fault.Invalid("effective_from", "%s is past; a policy counts from today, %s, or later; rides before that keep the policy of their day", day.Format(civil.DateLayout), from)
		}
		from = request.EffectiveFrom
	}
	if err := newestKnown(tx, request.NewestKnown); err != nil {
		return nil, err
	}
	if inForce, err := tx.PolicyOn(from); err == nil && inForce.Digest == read.Digest() {
		return nil, sameFault(tx, inForce)
	} else if err != nil && !fault.Is(err, pb.Reason_NO_POLICY) {
		return nil, err
	}
	revision := &pb.PolicyRevision{
		Digest: read.Digest(), AdoptedAt: tx.Stamp(), AdoptedBy: entry.Actor,
		EffectiveFrom: from, Note: request.Note, Text: string(request.Content), File: request.File,
	}
	if err := tx.AddPolicy(revision); err != nil {
		return nil, err
	}
	entry.Resource, entry.What = revision.Name, "adopted a policy from "+from
	return revision, errors.Join(tx.Append(entry), term(tx, revision))
}

// newestKnown refuses what was made in ignorance of a newer revision; nil: the caller did not say which it knows.
func newestKnown(tx *ledger.Tx, known *int32) error {
	if known == nil {
		return nil
	}
	there, err := revisions(tx)
	if err != nil || len(there) == 0 || there[0].Number <= *known {
		return err
	}
	return fault.New(pb.Reason_CHANGED_MEANWHILE, "policy %d was adopted meanwhile, and you have not seen it; compare it with yours before you adopt yours", there[0].Number)
}

// sameFault says that a file counts already on the day that it is to be adopted from, and until when.
func sameFault(tx *ledger.Tx, inForce *pb.PolicyRevision) error {
	if err := term(tx, inForce); err != nil {
		return err
	}
	until := " on"
	if inForce.FollowedBy > 0 {
		until = fmt.Sprintf(" to %s; policy %d follows", inForce.EffectiveUntil, inForce.FollowedBy)
	}
	return fault.New(pb.Reason_WRONG_STATE, "nothing to adopt: this very file is policy %d, which counts from %s%s",
		inForce.Number, inForce.EffectiveFrom, until)
}

// policyFault says what is wrong with a policy file, each problem at its place.
func policyFault(problems []*pb.Problem) error {
	made := &fault.Error{
		Reason:  pb.Reason_POLICY_INVALID,
		Message: "the policy file has errors; the policy in force stays",
	}
	for _, problem := range problems {
		if problem.Severity == pb.Problem_ERROR {
			what := problem.Message
			if problem.Hint != "" {
				what += "; " + problem.Hint
			}
			made.Fields = append(made.Fields, fault.Field{
				Path: fmt.Sprintf("%s:%d:%d", problem.File, problem.Line, problem.Column), What: what})
		}
	}
	return made
}

// GetPolicy implements PolicyService.
func (s *policyService) GetPolicy(ctx context.Context, request *pb.GetPolicyRequest) (revision *pb.PolicyRevision, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.PolicyShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if ids[1] != names.Any {
			if revision, err = policyByName(tx, ids[1]); err != nil {
				return err
			}
			return term(tx, revision)
		}
		_, zone, err := s.zone(tx)
		if err != nil {
			return err
		}
		if revision, err = tx.PolicyOn(tx.Now.In(zone).Format(civil.DateLayout)); err != nil {
			return err
		}
		revision.FolderProblems = s.refused(who)
		return errors.Join(tx.PolicyText(revision), term(tx, revision))
	})
	return revision, err
}

// policyByName reads a revision by the last part of its name.
func policyByName(tx *ledger.Tx, id string) (*pb.PolicyRevision, error) {
	number, err := issueNumber(id)
	if err != nil {
		return nil, fault.NotFound(names.Club(tx.Club) + "/policies/" + id)
	}
	return tx.Policy(number)
}

// ListPolicies implements PolicyService.
func (s *policyService) ListPolicies(ctx context.Context, request *pb.ListPoliciesRequest) (*pb.ListPoliciesResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	response := &pb.ListPoliciesResponse{FolderProblems: s.refused(who)}
	err := s.view(ctx, who, func(tx *ledger.Tx) (err error) {
		response.Policies, err = revisions(tx)
		for _, revision := range response.Policies {
			revision.Text = "" // of a record that has it still
			setTerm(revision, response.Policies)
		}
		return err
	})
	return response, err
}
