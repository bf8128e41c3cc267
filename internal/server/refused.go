package server

import (
	"fmt"
	"slices"
	"strings"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// whomToAsk names members who may call the method for every record, a few of them: "; ask Imke Vard". A guest, who may not
// read the members, is not told.
func whomToAsk(tx *ledger.Tx, who *caller, access *pb.Access) (string, error) {
	const most = 3
	if len(access.GetAny()) == 0 || who.has(pb.Role_GUEST) {
		return "", nil
	}
	var found []string
	for _, role := range access.GetAny() {
		if role == pb.Role_MEMBER || role == pb.Role_GUEST {
			continue // so many have it that nobody is named
		}
		err := tx.MembersWith(role, func(member *pb.Member) error {
			if member.SuspendedAt == nil && !slices.Contains(found, member.DisplayName) {
				found = append(found, member.DisplayName)
			}
			return nil
		})
		if err != nil {
			return "", err
		}
	}
	if len(found) == 0 {
		return "", nil
	}
	found = found[:min(len(found), most)]
	return "; ask " + strings.Join(found, " or "), nil
}

// refusal says who could do it.
func refusal(access *pb.Access) string {
	words := func(roles []pb.Role) string {
		var said []string
		for _, role := range roles {
			said = append(said, strings.ToLower(role.String()))
		}
		return strings.Join(said, " or ")
	}
	switch every, own := words(access.GetAny()), words(access.GetOwn()); {
	case access.GetRideLeaders():
		return "only for those who lead the ride, or a group of it"
	case every == "":
		return "only for your own record"
	case own == "":
		return "only for a " + every
	default:
		return fmt.Sprintf("only for a %s, or for your own record as %s", every, own)
	}
}
