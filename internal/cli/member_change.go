package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// memberFlags say what can be changed of a member.
type memberFlags struct {
	set                         *pflag.FlagSet
	name, pace, email, guardian string
	roles                       []string
	mayLead, mayMarkBack        bool
	junior, namePublic          bool
}

func (a *app) memberChange() *cobra.Command {
	cmd := &cobra.Command{
		Use: "change MEMBER", Short: "Change what is given of a member, and nothing else",
		Long: "You change --name, --pace, --email and --name-public of your own record; a secretary all of it, of every\n" +
			"record. For a switch that is on write --may-lead=false; --guardian none takes the guardian out.",
		Example: "  gritward member change ida-holm --pace 22-27\n" +
			"  gritward member change ida-holm --roles member,leader --may-lead",
		Args: cobra.ExactArgs(1),
	}
	flags := &memberFlags{set: cmd.Flags()}
	flags.set.StringVar(&flags.name, "name", "", "name shown to the club")
	flags.set.StringVar(&flags.pace, "pace", "", "comfortable pace MIN-MAX, km/h on a flat road in still air")
	flags.set.StringVar(&flags.email, "email", "", "e-mail address for rosters")
	flags.set.BoolVar(&flags.namePublic, "name-public", false, "the name may stand on pages seen without signing in")
	flags.set.StringSliceVar(&flags.roles, "roles", nil, "all roles, with commas: member, leader, secretary, guest")
	flags.set.BoolVar(&flags.mayLead, "may-lead", false, "qualified to lead a group")
	flags.set.BoolVar(&flags.mayMarkBack, "may-mark-back", false, "qualified as back marker")
	flags.set.BoolVar(&flags.junior, "junior", false, "under 18; rides only with the guardian")
	flags.set.StringVar(&flags.guardian, "guardian", "", "member who is the guardian")
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		member, err := s.getMember(args[0])
		if err != nil {
			return err
		}
		mask, err := flags.apply(s, member)
		if err != nil {
			return err
		}
		if len(mask) == 0 {
			return usagef("nothing to change was given; see its flags")
		}
		answer, err := s.clubs.UpdateMember(s.ctx,
			&pb.UpdateMemberRequest{Member: member, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) { s.layMember(p, answer, zone) })
	})
}

// apply puts what was given into the record, and tells the fields it touched.
func (f *memberFlags) apply(s *session, member *pb.Member) (mask []string, err error) {
	touch := func(flag string, put func() error, fields ...string) {
		if err == nil && f.set.Changed(flag) {
			err = put()
			mask = append(mask, fields...)
		}
	}
	touch("name", func() error { member.DisplayName = f.name; return nil }, "display_name")
	touch("email", func() error { member.Email = f.email; return nil }, "email")
	touch("name-public", func() error { member.NamePublic = f.namePublic; return nil }, "name_public")
	touch("may-lead", func() error { member.MayLead = f.mayLead; return nil }, "may_lead")
	touch("may-mark-back", func() error { member.MayMarkBack = f.mayMarkBack; return nil }, "may_mark_back")
	touch("junior", func() error { member.Junior = f.junior; return nil }, "junior")
	touch("pace", func() (err error) {
		member.PaceMinKmh, member.PaceMaxKmh, err = paceOf(f.pace)
		return err
	}, "pace_min_kmh", "pace_max_kmh")
	touch("roles", func() (err error) {
		member.Roles, err = rolesOf("--roles", f.roles)
		return err
	}, "roles")
	touch("guardian", func() (err error) {
		if member.Guardian = ""; f.guardian != none {
			member.Guardian, err = s.memberName(f.guardian)
		}
		return err
	}, "guardian")
	return mask, err
}

// paceOf reads MIN-MAX, km/h.
func paceOf(text string) (minKmh, maxKmh float64, err error) {
	low, high, ok := strings.Cut(text, "-")
	minKmh, lowErr := finite(strings.TrimSpace(low))
	maxKmh, highErr := finite(strings.TrimSpace(high))
	if !ok || lowErr != nil || highErr != nil || minKmh > maxKmh {
		return 0, 0, usagef("--pace %q is not MIN-MAX; for example 22-27", text)
	}
	return minKmh, maxKmh, nil
}

// rolesOf reads roles by their words.
func rolesOf(flag string, texts []string) ([]pb.Role, error) {
	known := strictyaml.Words(pb.Role(0).Descriptor())
	var roles []pb.Role
	for _, text := range texts {
		text = strings.ToLower(strings.TrimSpace(text))
		if !slices.Contains(known, text) {
			return nil, usagef("%s %q is not a role; the roles are %s", flag, text, strings.Join(known, ", "))
		}
		roles = append(roles, pb.Role(pb.Role_value[strings.ToUpper(text)]))
	}
	return roles, nil
}
