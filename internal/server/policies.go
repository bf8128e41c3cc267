package server

import (
	"context"
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
	response := &pb.CheckPolicyResponse{Digest: ledger.Digest(request.Content)}
	err := s.ledger.View(ctx, who.club, func(tx *ledger.Tx) error {
		read, problems, err := s.readPolicy(tx, request.File, request.Content)
		response.Problems, response.Usable = problems, read != nil
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
	err := s.ledger.Update(ctx, who.club, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			revision, err = policyByName(tx, names.Last(made))
			return err
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
			return nil, fault.Invalid("effective_from", "%s is past; a policy counts from today or later", day.Format(civil.DateLayout))
		}
		from = request.EffectiveFrom
	}
	if inForce, err := tx.PolicyOn(from); err == nil && inForce.Digest == read.Digest() {
		return nil, fault.New(pb.Reason_WRONG_STATE, "this very file is policy %d, in force from %s", inForce.Number, inForce.EffectiveFrom)
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
	return revision, tx.Append(entry)
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
	err = s.ledger.View(ctx, who.club, func(tx *ledger.Tx) error {
		if ids[1] != names.Any {
			revision, err = policyByName(tx, ids[1])
			return err
		}
		_, zone, err := s.zone(tx)
		if err != nil {
			return err
		}
		revision, err = tx.PolicyOn(tx.Now.In(zone).Format(civil.DateLayout))
		if err == nil && s.folder != nil && who.has(pb.Role_SECRETARY) {
			revision.FolderProblems = s.folder.problems(who.club)
		}
		return err
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
	response := &pb.ListPoliciesResponse{}
	err := s.ledger.View(ctx, who.club, func(tx *ledger.Tx) error {
		return tx.Policies(func(revision *pb.PolicyRevision) error {
			revision.Text = ""
			response.Policies = append(response.Policies, revision)
			return nil
		})
	})
	return response, err
}
