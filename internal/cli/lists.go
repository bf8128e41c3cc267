package cli

import (
	"fmt"
	"strings"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

const (
	pageSize   = 500 // records asked for at a time
	maxPages   = 200 // so that a server that never ends its pages does not hold the client for ever
	maxNearIDs = 5   // ids named when one was not found
)

// allPages reads page after page until the last.
func allPages[T any](read func(token string) (records []T, next string, err error)) ([]T, error) {
	var all []T
	token := ""
	for range maxPages {
		records, next, err := read(token)
		if err != nil {
			return nil, err
		}
		all = append(all, records...)
		if next == "" {
			return all, nil
		}
		token = next
	}
	return nil, fmt.Errorf("the server's list has more than %d pages; this is a fault of the server", maxPages)
}

// list is a table, or a line that says that there is nothing.
func (p *page) list(none string, head []string, rows [][]string) {
	if len(rows) == 0 {
		p.line("%s", none)
		return
	}
	p.table(head, rows)
}

// isMissing tells whether it is the record of that name that the server has not found, and not another beside it.
func isMissing(err error, name string) bool {
	made, ok := grpcStatus(err)
	return ok && reasonOf(made) == pb.Reason_NOT_FOUND && strings.HasSuffix(made.Message(), name)
}

// withBikes adds to a NOT_FOUND the bikes that the member has.
func (s *session) withBikes(err error, name string) error {
	if !isMissing(err, name) {
		return err
	}
	bikes, listErr := s.allBikes(names.Member(s.set.Club(), names.Part(name, "members")))
	if listErr != nil {
		return err
	}
	var ids []string
	for _, bike := range bikes {
		ids = append(ids, s.shortBike(bike.GetName()))
	}
	return withIDs(err, "bikes", ids)
}

// withRides adds to a NOT_FOUND the newest rides that there are.
func (s *session) withRides(err error) error {
	if !isReason(err, pb.Reason_NOT_FOUND) {
		return err
	}
	answer, listErr := s.rides.ListRides(s.ctx, &pb.ListRidesRequest{Parent: s.clubName(), PageSize: maxNearIDs})
	if listErr != nil {
		return err
	}
	var ids []string
	for _, ride := range answer.GetRides() {
		ids = append(ids, names.Last(ride.GetName()))
	}
	return withIDs(err, "rides", ids)
}

func withIDs(err error, what string, ids []string) error {
	if len(ids) == 0 {
		return hinted{"there are no " + what + " yet", err}
	}
	return hinted{"next: take one of the " + what + " there are: " + strings.Join(ids[:min(len(ids), maxNearIDs)], ", "), err}
}

// count tells a number of things in words.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
