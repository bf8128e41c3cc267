package server

import (
	"fmt"
	"strings"
	"unicode"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/lookalike"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// soundName is a name to show people, without the gaps at its ends. It must hold a letter or digit, and be read as it is
// written: no line breaks, and joiners only where letters of its script join (Unicode Standard Annex #31, section 2.3.1,
// has the whole rule; here no joiner stands beside a letter of a script that never needs one).
func soundName(path, name string) (string, error) {
	name = strings.TrimSpace(name)
	seen, before := false, rune(0)
	for _, r := range name {
		if r == '\n' || r == '\t' {
			return "", fault.Invalid(path, "must be one line, without tabs")
		}
		if isJoiner(r) && !joins(before) || isJoiner(before) && !joins(r) {
			return "", fault.Invalid(path, "holds a character that cannot be seen, where it joins nothing")
		}
		seen, before = seen || unicode.In(r, unicode.L, unicode.N) && !lookalike.Unseen(r), r
	}
	if isJoiner(before) {
		return "", fault.Invalid(path, "holds a character that cannot be seen, where it joins nothing")
	}
	if !seen {
		return "", fault.Invalid(path, "must hold a letter or a digit")
	}
	return name, nil
}

// joins tells whether a joiner may stand beside a character: a letter, or a mark on one, of a script with joined forms.
func joins(r rune) bool {
	return unicode.In(r, unicode.L, unicode.Mn, unicode.Mc) && !unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Common)
}

// sameName tells whether two names are one, capitals apart.
func sameName(a, b string) bool { return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b)) }

// likeMember finds another member whose name can be taken for a name; nil: there is none. One of the very name comes before
// one that only looks like it.
func likeMember(tx *ledger.Tx, self, name string) (found *pb.Member, err error) {
	err = tx.MembersLike(name, func(one *pb.Member) error {
		if one.Name == self || found != nil && sameName(found.DisplayName, name) {
			return nil
		}
		if same := sameName(one.DisplayName, name); same || found == nil && lookalike.Alike(one.DisplayName, name) {
			found = one
		}
		return nil
	})
	return found, err
}

// namesakes tells of a member, or of an invite still open, whose name is the same or can be taken for it; "" where there is
// none. Two people may have one name, and one person may be invited twice by mistake, or under a name made to deceive.
func (d *desk) namesakes(tx *ledger.Tx, name string) (string, error) {
	member, err := likeMember(tx, "", name)
	switch {
	case err != nil:
		return "", err
	case member != nil && sameName(member.DisplayName, name):
		return fmt.Sprintf("There is a member called %s already, and this invite makes another. If it is the same person, withdraw it; "+
			"for one more device of that member an invite has for_member.", member.DisplayName), nil
	case member != nil:
		return fmt.Sprintf("The name looks like that of %s, a member (%s): make sure who it is for, and withdraw the invite if it "+
			"is not for somebody of that name.", member.DisplayName, names.Last(member.Name)), nil
	}
	_, zone, err := d.zone(tx)
	if err != nil {
		return "", err
	}
	var open *pb.Invite
	err = tx.Invites(func(record *pb.InviteRecord) error {
		one := record.Invite
		if isOpen(tx, one) && one.ForMember == "" && lookalike.Alike(one.DisplayName, name) && (open == nil || madeAt(one).After(madeAt(open))) {
			open = one
		}
		return nil
	})
	if err != nil || open == nil {
		return "", err
	}
	made, what := madeAt(open).In(zone), "that name"
	if !sameName(open.DisplayName, name) {
		what = open.DisplayName + ", which looks like that name,"
	}
	return fmt.Sprintf("An invite for %s was made on %s already, by %s, and is still open; if both are used, two members come of it.",
		what, made.Format("2 January 2006, 15:04"), names.Last(open.CreatedBy)), nil
}

// guestNamesakes is namesakes for a guest without a device, who is signed up already when it is read.
func (d *desk) guestNamesakes(tx *ledger.Tx, name string) (string, error) {
	member, err := likeMember(tx, "", name)
	switch {
	case err != nil:
		return "", err
	case member == nil:
		return d.namesakes(tx, name)
	case sameName(member.DisplayName, name):
		return fmt.Sprintf("There is a member called %s already: if it is the same person, withdraw the guest's sign-up, and sign the member up.",
			member.DisplayName), nil
	}
	return fmt.Sprintf("The name looks like that of %s, a member (%s): if it is the same person, withdraw the guest's sign-up, and sign the "+
		"member up.", member.DisplayName, names.Last(member.Name)), nil
}

// renamed holds a new name of a member against those of the others. Members may not take a name that can be taken for
// another's; a secretary, who knows both, may give it.
func renamed(tx *ledger.Tx, who *caller, member *pb.Member) error {
	if who.has(pb.Role_SECRETARY) {
		return nil
	}
	other, err := likeMember(tx, member.Name, member.DisplayName)
	if err != nil || other == nil {
		return err
	}
	return fault.Invalid("member.display_name", "can be taken for the name of another member, %s; ask a secretary, who can set it",
		other.DisplayName)
}
