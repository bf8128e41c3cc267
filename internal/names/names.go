// Package names builds and takes apart resource names such as clubs/{club}/members/{member}/bikes/{bike}.
package names

import (
	"crypto/rand"
	"fmt"
	"math/big"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"gritward/internal/fault"
)

// Any stands for "all of them" or "the newest" where a method allows it.
const Any = "-"

// maxID is the length of the longest id.
const maxID = 80

// ValidID tells whether s can be one part of a name: lower-case letters, digits and hyphens, up to 80, no hyphen first.
func ValidID(s string) bool {
	for i := range len(s) {
		if c := s[i]; !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' && i > 0) {
			return false
		}
	}
	return s != "" && len(s) <= maxID
}

// ValidClub tells whether s can be a club's id: as ValidID has it, up to 40.
func ValidClub(s string) bool { return ValidID(s) && len(s) <= 40 }

// memberLetters are those of a member's id: no vowels, so that it says no word, and nothing that is read as something else.
const memberLetters = "23456789bcdfghjkmnpqrstvwxz"

// memberLength is the length of a member's id: 27 to the power of 8 ids.
const memberLength = 8

// NewMemberID draws an id for a member. It is not made of the member's name: it stays in the audit log, and on rosters,
// when the member is erased, and then points to nobody.
func NewMemberID() string {
	id := make([]byte, memberLength)
	for i := range id {
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(memberLetters))))
		if err != nil {
			panic(err) // crypto/rand.Reader does not fail
		}
		id[i] = memberLetters[n.Int64()]
	}
	return string(id)
}

// IsMemberID tells whether s can have come of NewMemberID.
func IsMemberID(s string) bool {
	return len(s) == memberLength && strings.Trim(s, memberLetters) == ""
}

// Club is the name of a club.
func Club(club string) string { return "clubs/" + club }

// Member is the name of a member.
func Member(club, member string) string { return Club(club) + "/members/" + member }

// Device is the name of a member's device.
func Device(club, member, device string) string { return Member(club, member) + "/devices/" + device }

// Contacts is the name of a member's emergency contacts.
func Contacts(club, member string) string { return Member(club, member) + "/contacts" }

// Reading is the name of the note that somebody read a member's emergency contacts.
func Reading(club, member string, number int) string {
	return fmt.Sprintf("%s/readings/%d", Member(club, member), number)
}

// Bike is the name of a member's bike.
func Bike(club, member, bike string) string { return Member(club, member) + "/bikes/" + bike }

// Declaration is the name of one revision of a bike's declaration.
func Declaration(club, member, bike string, revision int32) string {
	return fmt.Sprintf("%s/declarations/%d", Bike(club, member, bike), revision)
}

// Invite is the name of an invite.
func Invite(club, invite string) string { return Club(club) + "/invites/" + invite }

// Policy is the name of an adopted policy.
func Policy(club string, number int32) string {
	return fmt.Sprintf("%s/policies/%d", Club(club), number)
}

// Ride is the name of a ride.
func Ride(club, ride string) string { return Club(club) + "/rides/" + ride }

// Signup is the name of a member's sign-up for a ride.
func Signup(club, ride, member string) string { return Ride(club, ride) + "/signups/" + member }

// Roster is the name of one issue of a ride's roster.
func Roster(club, ride string, number int32) string {
	return fmt.Sprintf("%s/rosters/%d", Ride(club, ride), number)
}

// Share is the name of the link that opens a ride's roster.
func Share(club, ride string) string { return Ride(club, ride) + "/share" }

// Notice is the name of a notice that riders of a ride are overdue.
func Notice(club, ride string, number int32) string {
	return fmt.Sprintf("%s/notices/%d", Ride(club, ride), number)
}

// Letter is the name of an e-mail about a ride.
func Letter(club, ride string, number int) string {
	return fmt.Sprintf("%s/letters/%d", Ride(club, ride), number)
}

// Incident is the name of the record of an incident on a ride.
func Incident(club, ride string, number int32) string {
	return fmt.Sprintf("%s/incidents/%d", Ride(club, ride), number)
}

// Shapes of names, for Parse.
const (
	ClubShape        = "clubs/*"
	MemberShape      = "clubs/*/members/*"
	DeviceShape      = "clubs/*/members/*/devices/*"
	ContactsShape    = "clubs/*/members/*/contacts"
	BikeShape        = "clubs/*/members/*/bikes/*"
	DeclarationShape = "clubs/*/members/*/bikes/*/declarations/*"
	InviteShape      = "clubs/*/invites/*"
	PolicyShape      = "clubs/*/policies/*"
	RideShape        = "clubs/*/rides/*"
	SignupShape      = "clubs/*/rides/*/signups/*"
	MarkShape        = "clubs/*/rides/*/marks/*"
	RosterShape      = "clubs/*/rides/*/rosters/*"
	ShareShape       = "clubs/*/rides/*/share"
	LetterShape      = "clubs/*/rides/*/letters/*"
	IncidentShape    = "clubs/*/rides/*/incidents/*"
	wildcardPart     = "*"
)

// Parse takes a name apart: one id for each star of the shape. An id is as ValidID has it, or Any. The error is a
// FIELD_INVALID about the field at path.
func Parse(path, name, shape string) ([]string, error) {
	whole := name
	wrong := func() ([]string, error) {
		return nil, fault.Invalid(path, "%s is not a name of the form %s", quote(whole), readable(shape))
	}
	ids := make([]string, 0, 4) // no shape has more stars
	for pattern, more := shape, true; more; {
		var want, part string
		var follows bool
		want, pattern, more = strings.Cut(pattern, "/")
		if part, name, follows = strings.Cut(name, "/"); follows != more {
			return wrong()
		}
		switch {
		case want != wildcardPart && part != want, want == wildcardPart && part != Any && !ValidID(part):
			return wrong()
		case want == wildcardPart:
			ids = append(ids, part)
		}
	}
	return ids, nil
}

// Last is the last part of a name, for people.
func Last(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// Part is the id that follows the collection in a name: Part("clubs/a/rides/b/signups/c", "rides") is "b"; "" when the
// collection is not in it.
func Part(name, collection string) string {
	for name != "" {
		var kind, id string
		kind, name, _ = strings.Cut(name, "/")
		id, name, _ = strings.Cut(name, "/")
		if kind == collection {
			return id
		}
	}
	return ""
}

// Slug makes an id of a title: lower case, the letters a to z (without their accents) and digits kept, all else a hyphen,
// at most limit bytes and never more than an id may have. Empty when nothing is left.
func Slug(title string, limit int) string {
	var b strings.Builder
	gap := false
	for _, r := range strings.ToLower(norm.NFD.String(title)) {
		if unicode.Is(unicode.Mn, r) {
			continue // an accent, apart from its letter
		}
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(r)
		} else {
			gap = true
		}
	}
	slug := b.String()
	return strings.TrimRight(slug[:min(len(slug), max(limit, 0), maxID)], "-")
}

func quote(name string) string {
	if len(name) > 80 {
		return fmt.Sprintf("%.80q...", name)
	}
	return fmt.Sprintf("%q", name)
}

func readable(shape string) string {
	parts := strings.Split(shape, "/")
	for i := 1; i < len(parts); i += 2 {
		singular := strings.TrimSuffix(parts[i-1], "s")
		if parts[i-1] == "policies" {
			singular = "policy"
		}
		parts[i] = "{" + singular + "}"
	}
	return strings.Join(parts, "/")
}

// In is Parse for a name that must lie in the club given.
func In(club, path, name, shape string) ([]string, error) {
	ids, err := Parse(path, name, shape)
	if err == nil && ids[0] != club {
		err = fault.Invalid(path, "%s is another club's; yours is %s", quote(name), Club(club))
	}
	return ids, err
}
