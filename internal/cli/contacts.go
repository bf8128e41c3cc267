package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// emergency is told wherever contacts are shown to somebody who may have to act.
const emergency = "In an emergency call the emergency number first, then these."

func (a *app) contacts() *cobra.Command {
	group := &cobra.Command{
		Use: "contacts", Short: "Whom to call if something happens to you",
		Long: "Whom to call if something happens to you on a ride. You see them; those who lead a ride that you ride do, from your\n" +
			"sign-on until some hours after it is closed; nobody else, secretaries included. gritward contacts readings shows who\n" +
			"has read them.",
		Example: "  gritward contacts set --call \"Runa Quill, 07700 900123, sister\"\n  gritward contacts show",
	}
	group.AddCommand(a.contactsSet(), a.contactsShow(), a.contactsReadings())
	return a.asGroup(group)
}

func (a *app) contactsSet() *cobra.Command {
	cmd := &cobra.Command{
		Use: "set", Short: "Say whom to call, in place of what was said before",
		Long: "Says whom to call, in place of all that was said before. --call takes \"NAME, NUMBER\" or \"NAME, NUMBER, RELATION\"; give\n" +
			"it up to three times, in the order in which to try them. --none takes everything away.\n" +
			"Ask the people whom you name whether they agree.",
		Example: "  gritward contacts set --call \"Runa Quill, 07700 900123, sister\" --note \"allergic to bee stings\"\n" +
			"  gritward contacts set --none", Args: cobra.NoArgs,
	}
	calls := cmd.Flags().StringArray("call", nil, "\"NAME, NUMBER\" or \"NAME, NUMBER, RELATION\" (repeat, up to 3)")
	note := cmd.Flags().String("note", "", "what a first-aider should know, up to 300 characters")
	none := cmd.Flags().Bool("none", false, "take everything away")
	return a.online(cmd, func(s *session, _ []string) error {
		if *none == (len(*calls) > 0 || *note != "") {
			return usagef("say whom to call with --call, or take everything away with --none")
		}
		contacts := &pb.EmergencyContacts{MedicalNote: *note}
		for _, text := range *calls {
			one, err := contactOf(text)
			if err != nil {
				return err
			}
			contacts.Call = append(contacts.Call, one)
		}
		name, err := s.contactsName()
		if err != nil {
			return err
		}
		contacts.Name = name
		answer, err := s.personal.SetEmergencyContacts(s.ctx, &pb.SetEmergencyContactsRequest{Contacts: contacts})
		if err != nil {
			return err
		}
		return a.showContacts(s, answer)
	})
}

// contactOf reads "NAME, NUMBER" or "NAME, NUMBER, RELATION".
func contactOf(text string) (*pb.EmergencyContact, error) {
	parts := strings.Split(text, ",")
	if len(parts) < 2 || len(parts) > 3 {
		return nil, usagef("--call %q is not \"NAME, NUMBER\" or \"NAME, NUMBER, RELATION\"", text)
	}
	one := &pb.EmergencyContact{ContactName: strings.TrimSpace(parts[0]), Phone: strings.TrimSpace(parts[1])}
	if len(parts) == 3 {
		one.Relation = strings.TrimSpace(parts[2])
	}
	return one, nil
}

// contactsName is the resource name of the caller's own contacts.
func (s *session) contactsName() (string, error) {
	who, err := s.me()
	return who.GetMember().GetName() + "/contacts", err
}

func (a *app) contactsShow() *cobra.Command {
	cmd := &cobra.Command{
		Use: "show", Short: "Whom to call, as you have said",
		Example: "  gritward contacts show", Args: cobra.NoArgs,
	}
	return a.online(cmd, func(s *session, _ []string) error {
		name, err := s.contactsName()
		if err != nil {
			return err
		}
		answer, err := s.personal.GetEmergencyContacts(s.ctx, &pb.GetEmergencyContactsRequest{Name: name})
		if err != nil {
			return err
		}
		return a.showContacts(s, answer)
	})
}

func (a *app) showContacts(s *session, contacts *pb.EmergencyContacts) error {
	zone, err := s.zone()
	if err != nil {
		return err
	}
	return a.answer(contacts, func(p *page) {
		if len(contacts.GetCall()) == 0 && contacts.GetMedicalNote() == "" {
			p.line("You have named nobody to call. To do so: gritward contacts set --call \"NAME, NUMBER\"")
			return
		}
		layContacts(p, contacts)
		p.line("Given on %s.", day(contacts.GetChangedAt(), zone))
	})
}

// layContacts writes whom to call, and what a first-aider should know.
func layContacts(p *page, contacts *pb.EmergencyContacts) {
	var rows [][]string
	for i, one := range contacts.GetCall() {
		rows = append(rows, []string{fmt.Sprintf("  %d", i+1), one.GetContactName(), one.GetPhone(), one.GetRelation()})
	}
	p.table(nil, rows)
	if note := contacts.GetMedicalNote(); note != "" {
		p.line("  note: %s", note)
	}
}

func (a *app) contactsReadings() *cobra.Command {
	cmd := &cobra.Command{
		Use: "readings", Short: "Who has read whom to call, newest first",
		Example: "  gritward contacts readings", Args: cobra.NoArgs,
	}
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		readings, err := allPages(func(token string) ([]*pb.ContactReading, string, error) {
			answer, err := s.personal.ListContactReadings(s.ctx, &pb.ListContactReadingsRequest{
				Parent: s.who.GetMember().GetName(), PageSize: pageSize, PageToken: token})
			return answer.GetReadings(), answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return a.answer(&pb.ListContactReadingsResponse{Readings: readings}, func(p *page) {
			var rows [][]string
			for _, one := range readings {
				rows = append(rows, []string{when(one.GetAt(), zone), orID(one.GetReaderName(), one.GetReader()), orID(one.GetRideTitle(), one.GetRide())})
			}
			p.list("nobody has read them", []string{"when", "who", "for the ride"}, rows)
		})
	})
}

// orID is what somebody or something is called, or its id where that is not known any more.
func orID(shown, name string) string {
	if shown != "" {
		return shown
	}
	return names.Last(name)
}

func (a *app) rideContacts() *cobra.Command {
	cmd := &cobra.Command{
		Use: "contacts RIDE [MEMBER]", Short: "Whom to call about riders, for those who lead the ride",
		Long: "Whom to call about a rider, or about everybody in a group. " + emergency + "\n" +
			"For those who lead the ride or a group of it, from a rider's sign-on until the ride is closed and some hours more, as\n" +
			"the policy says. Each reading is written down, and the rider sees who read.",
		Example: "  gritward ride contacts 2026-12-13-moors ida-holm\n  gritward ride contacts 2026-12-13-moors --group steady",
		Args:    cobra.RangeArgs(1, 2),
	}
	group := cmd.Flags().String("group", "", "everybody who rides in this group, by id")
	return a.online(cmd, func(s *session, args []string) error {
		if (len(args) == 2) == (*group != "") {
			return usagef("name a member, or a group with --group")
		}
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		request := &pb.ReadRideContactsRequest{Parent: ride, Group: *group}
		if len(args) == 2 {
			if request.Member, err = s.memberName(args[1]); err != nil {
				return err
			}
		}
		answer, err := s.personal.ReadRideContacts(s.ctx, request)
		if err != nil {
			return err
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) { layRideContacts(p, answer, zone) })
	})
}

func layRideContacts(p *page, answer *pb.ReadRideContactsResponse, zone *time.Location) {
	p.line(emergency)
	for _, rider := range answer.GetRiders() {
		switch contacts := rider.GetContacts(); {
		case rider.GetWithheld() != "":
			p.line("%s %s", rider.GetDisplayName(), rider.GetWithheld())
		case contacts == nil:
			p.line("%s has named nobody to call", rider.GetDisplayName())
		default:
			p.line("%s", rider.GetDisplayName())
			layContacts(p, contacts)
		}
	}
	p.line("Can be read until %s as things stand. The riders see that you have read this.", when(answer.GetUntilAt(), zone))
}
