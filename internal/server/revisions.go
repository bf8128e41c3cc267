package server

import (
	"context"
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	pb "gritward/proto/gritward/v1"
)

// ComparePolicies implements PolicyService.
func (s *policyService) ComparePolicies(ctx context.Context, request *pb.ComparePoliciesRequest) (*pb.ComparePoliciesResponse, error) {
	who := callerOf(ctx)
	earlier, err := names.In(who.club, "name", request.Name, names.PolicyShape)
	if err != nil {
		return nil, err
	}
	later, err := names.In(who.club, "other", request.Other, names.PolicyShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ComparePoliciesResponse{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		before, err := s.revision(tx, earlier[1])
		if err != nil {
			return err
		}
		after, err := s.revision(tx, later[1])
		if err != nil {
			return err
		}
		response.Differences = policy.Differences(before, after)
		return nil
	})
	return response, err
}

// revision reads an adopted policy.
func (s *policyService) revision(tx *ledger.Tx, id string) (*policy.Policy, error) {
	revision, err := policyByName(tx, id)
	if err != nil {
		return nil, err
	}
	read, problems := policy.Read(revision.File, []byte(revision.Text))
	if read == nil {
		return nil, fmt.Errorf("adopted policy %s cannot be read any more: %v", revision.Name, problems)
	}
	return read, nil
}

// RestorePolicy implements PolicyService.
func (s *policyService) RestorePolicy(ctx context.Context, request *pb.RestorePolicyRequest) (*pb.PolicyRevision, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.PolicyShape)
	if err != nil {
		return nil, err
	}
	var restored *pb.PolicyRevision
	asked := &ledger.Request{Member: who.id(), ID: request.RequestId, Method: "RestorePolicy", Message: request}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		made, err := tx.Answered(asked)
		if err != nil {
			return err
		}
		if made != "" {
			if restored, err = policyByName(tx, names.Last(made)); err != nil {
				return err
			}
			return term(tx, restored)
		}
		earlier, err := policyByName(tx, ids[1])
		if err != nil {
			return err
		}
		restored, err = s.adopt(tx, audit(who, "PolicyService/RestorePolicy", "", ""), &pb.AdoptPolicyRequest{
			Parent: names.Club(who.club), File: earlier.File, Content: []byte(earlier.Text), EffectiveFrom: request.EffectiveFrom,
			Note: note(request.Note, earlier), NewestKnown: request.NewestKnown})
		if fault.Is(err, pb.Reason_POLICY_INVALID) {
			return fault.New(pb.Reason_POLICY_INVALID,
				"policy %d was written for an earlier version and has errors now; save its text, mend it and adopt that", earlier.Number)
		}
		if err != nil {
			return err
		}
		return tx.Answer(asked, restored.Name)
	})
	if err != nil {
		return nil, err
	}
	return restored, nil
}

// note says which revision was restored, and what the secretary says about it.
func note(said string, earlier *pb.PolicyRevision) string {
	text := fmt.Sprintf("policy %d again", earlier.Number)
	if said != "" {
		text += ": " + said
	}
	return text
}
