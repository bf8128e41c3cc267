package server

import (
	"context"
	"strconv"
	"strings"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// maxAuditRead is how many entries are looked through for one page.
const maxAuditRead = 10_000

// audit is an entry about what a caller did.
func audit(who *caller, method, resource, what string) *pb.AuditEntry {
	return &pb.AuditEntry{
		Actor: who.member.Name, Device: who.device.Name,
		Method: "gritward.v1." + method, Resource: resource, What: what,
	}
}

// ListAudit implements ClubService.
func (s *clubService) ListAudit(ctx context.Context, request *pb.ListAuditRequest) (*pb.ListAuditResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	before := int64(0)
	if request.PageToken != "" {
		var err error
		if before, err = strconv.ParseInt(request.PageToken, 10, 64); err != nil || before < 1 {
			return nil, badToken()
		}
	}
	response := &pb.ListAuditResponse{}
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		head, err := tx.AuditHead()
		if err != nil {
			return err
		}
		response.Head = head.String()
		size, read, last := pageSize(request.PageSize), 0, int64(0)
		limit := size + 1
		if request.About != "" {
			limit = maxAuditRead + 1
		}
		return tx.AuditDown(before, limit, func(entry *pb.AuditEntry) error {
			if response.NextPageToken != "" {
				return nil
			}
			if len(response.Entries) == size || read == maxAuditRead {
				response.NextPageToken = strconv.FormatInt(last, 10)
				return nil
			}
			if read, last = read+1, entry.Number; concerns(entry, request.About) {
				response.Entries = append(response.Entries, entry)
			}
			return nil
		})
	})
	return response, err
}

// concerns tells whether an entry is by that member or device, or about that record or one below it.
func concerns(entry *pb.AuditEntry, about string) bool {
	return about == "" || entry.Actor == about || entry.Device == about ||
		entry.Resource == about || strings.HasPrefix(entry.Resource, about+"/")
}
