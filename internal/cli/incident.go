package cli

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

func (a *app) incident() *cobra.Command {
	group := &cobra.Command{
		Use: "incident", Short: "What went wrong on a ride, written down",
		Long: phrase.IncidentCaution + "\n" +
			"Those who lead a ride and secretaries write down what happened; a rider writes down what concerns the rider. Nothing is\n" +
			"changed afterwards, only added. Secretaries, the ride's leader and the members whom it concerns can read it, and\n" +
			"each reading is written down. Write what was seen; no medical detail, and no blame.",
		Example: "  gritward incident list\n  gritward incident show 2026-12-13-moors/1",
	}
	group.AddCommand(a.incidentRecord(), a.incidentList(), a.incidentShow(), a.incidentAdd(), a.incidentReported())
	return a.asGroup(group)
}

// incidentFlags are what is said of an incident.
type incidentFlags struct {
	kind, injured, at, where, place, what string
	km                                    float64
	concerned, others, saw, sawOthers     []string
	done, photographs                     []string
}

func (a *app) incidentRecord() *cobra.Command {
	cmd := &cobra.Command{
		Use: "record RIDE", Short: "Write down what happened on a ride",
		Long: phrase.IncidentCaution + "\n" +
			"--kind is one of " + strings.Join(strictyaml.Words(pb.Incident_Kind(0).Descriptor()), ", ") + ".\n" +
			"--done is one of " + strings.Join(strictyaml.Words(pb.Incident_Action(0).Descriptor()), ", ") + ".\n" +
			"--injured is yes or no: how is not asked, and does not belong into --what either. --photo takes names of files; the\n" +
			"pictures stay where they are. The weather and light of the ride's plan are copied into the record.",
		Example: "  gritward incident record 2026-12-13-moors --kind fall --injured no --at \"2026-12-13 11:20\" --km 12.3 \\\n" +
			"    --where \"cattle grid above the ford\" --concerned ida-holm --saw osric-penhale --saw-other \"a walker, Isa Mott\" \\\n" +
			"    --what \"The front wheel slid on the wet grid.\" --done rode-on --photo grid-1.jpg",
		Args: cobra.ExactArgs(1),
	}
	needs(cmd, "kind", "injured", "at", "where", "what")
	set := &incidentFlags{}
	flags := cmd.Flags()
	flags.StringVar(&set.kind, "kind", "", "what happened, in kind (needed)")
	flags.StringVar(&set.injured, "injured", "", "yes or no: somebody was injured (needed)")
	flags.StringVar(&set.at, "at", "", "when: \"2026-12-13 11:20\" (needed)")
	flags.Float64Var(&set.km, "km", 0, "where: km along the route")
	flags.StringVar(&set.place, "place", "", "where: \"54.085,-2.285\", degrees north and east")
	flags.StringVar(&set.where, "where", "", "where, in words (needed)")
	flags.StringArrayVar(&set.concerned, "concerned", nil, "a member whom it concerns (repeat)")
	flags.StringArrayVar(&set.others, "concerned-other", nil, "somebody else whom it concerns, by name (repeat)")
	flags.StringArrayVar(&set.saw, "saw", nil, "a member who saw it (repeat)")
	flags.StringArrayVar(&set.sawOthers, "saw-other", nil, "somebody else who saw it, by name (repeat)")
	flags.StringVar(&set.what, "what", "", "what was seen, in words (needed)")
	flags.StringSliceVar(&set.done, "done", nil, "what was done (repeat, or with commas)")
	flags.StringArrayVar(&set.photographs, "photo", nil, "file name of a photograph (repeat)")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		incident, err := s.incidentOf(set)
		if err != nil {
			return err
		}
		made, err := s.incidents.RecordIncident(s.ctx, &pb.RecordIncidentRequest{Parent: ride, Incident: incident, RequestId: requestID()})
		if err != nil {
			return s.withRides(err)
		}
		return a.showIncident(s, made)
	})
}

// incidentOf makes a record of the flags.
func (s *session) incidentOf(set *incidentFlags) (*pb.Incident, error) {
	kind, err := choiceOf("--kind", set.kind, pb.Incident_Kind(0).Descriptor())
	if err != nil {
		return nil, err
	}
	incident := &pb.Incident{Kind: pb.Incident_Kind(kind), Where: set.where, Account: set.what, Photographs: set.photographs}
	switch set.injured {
	case "yes", "no":
		incident.Injured = proto.Bool(set.injured == "yes")
	case "":
	default:
		return nil, usagef("--injured %q is neither yes nor no", set.injured)
	}
	if incident.HappenedLocal, err = localTime("at", set.at); err != nil {
		return nil, err
	}
	if s.cmd.Flags().Changed("km") {
		incident.AtDistanceM = proto.Float64(set.km * 1000)
	}
	if set.place != "" {
		if incident.LatDeg, incident.LonDeg, err = degreesOf(set.place); err != nil {
			return nil, err
		}
	}
	for _, word := range set.done {
		done, err := choiceOf("--done", word, pb.Incident_Action(0).Descriptor())
		if err != nil {
			return nil, err
		}
		incident.Done = append(incident.Done, pb.Incident_Action(done))
	}
	if incident.Concerned, err = s.peopleOf(set.concerned, set.others); err != nil {
		return nil, err
	}
	incident.Saw, err = s.peopleOf(set.saw, set.sawOthers)
	return incident, err
}

// degreesOf reads "54.085,-2.285".
func degreesOf(text string) (lat, lon *float64, err error) {
	north, east, two := strings.Cut(text, ",")
	latDeg, err1 := strconv.ParseFloat(strings.TrimSpace(north), 64)
	lonDeg, err2 := strconv.ParseFloat(strings.TrimSpace(east), 64)
	if !two || err1 != nil || err2 != nil {
		return nil, nil, usagef("--place %q is not \"54.085,-2.285\": degrees north, a comma, degrees east", text)
	}
	return &latDeg, &lonDeg, nil
}

func (s *session) peopleOf(members, others []string) (all []*pb.IncidentPerson, err error) {
	for _, ref := range members {
		name, err := s.memberName(ref)
		if err != nil {
			return nil, err
		}
		all = append(all, &pb.IncidentPerson{Member: name})
	}
	for _, name := range others {
		all = append(all, &pb.IncidentPerson{Other: name})
	}
	return all, nil
}

// incidentName is the resource name of "RIDE/NUMBER".
func (s *session) incidentName(ref string) (string, error) {
	ride, number, two := strings.Cut(ref, "/")
	if strings.HasPrefix(ref, "clubs/") {
		return ref, nil
	}
	n, err := strconv.ParseInt(number, 10, 32)
	if !two || err != nil || n < 1 || !names.ValidID(ride) {
		return "", usagef("%q is not an incident; write RIDE/NUMBER as gritward incident list shows it", ref)
	}
	return names.Incident(s.set.Club(), ride, int32(n)), nil
}

// incidentRef is what to type for an incident.
func incidentRef(name string) string { return names.Part(name, "rides") + "/" + names.Last(name) }

func (a *app) incidentShow() *cobra.Command {
	cmd := &cobra.Command{
		Use: "show INCIDENT", Short: "A record with all that was added; that you read it is written down",
		Example: "  gritward incident show 2026-12-13-moors/1", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.incidentName(args[0])
		if err != nil {
			return err
		}
		incident, err := s.incidents.ReadIncident(s.ctx, &pb.ReadIncidentRequest{Name: name})
		if err != nil {
			return err
		}
		return a.showIncident(s, incident)
	})
}

func (a *app) showIncident(s *session, incident *pb.Incident) error {
	zone, err := s.zone()
	if err != nil {
		return err
	}
	return a.answer(incident, func(p *page) { layIncident(p, incident, zone) })
}

func layIncident(p *page, incident *pb.Incident, zone *time.Location) {
	p.line("%s", phrase.IncidentCaution)
	injured := "nobody was injured"
	if incident.GetInjured() {
		injured = "somebody was injured"
	}
	where := []string{incident.GetWhere()}
	if incident.AtDistanceM != nil {
		where = append(where, "at "+km(incident.GetAtDistanceM()))
	}
	if incident.LatDeg != nil {
		where = append(where, fmt.Sprintf("%.5f,%.5f", incident.GetLatDeg(), incident.GetLonDeg()))
	}
	p.fields(
		[2]string{"incident", incidentRef(incident.GetName())},
		[2]string{"ride", incident.GetSummary().GetRideTitle()},
		[2]string{"what", word(incident.GetKind()) + "; " + injured},
		[2]string{"when", when(incident.GetHappenedAt(), zone)},
		[2]string{"where", strings.Join(where, ", ")},
		[2]string{"concerned", phrase.IncidentPeople(incident.GetConcerned())},
		[2]string{"saw it", phrase.IncidentPeople(incident.GetSaw())},
		[2]string{"done", words(incident.GetDone())},
		[2]string{"planned", phrase.IncidentConditions(incident.GetConditions())},
		[2]string{"photographs", strings.Join(incident.GetPhotographs(), ", ")},
		[2]string{"written down", when(incident.GetRecordedAt(), zone) + " by " + orID(incident.GetRecordedByName(), incident.GetRecordedBy())},
		[2]string{"insurer", phrase.Insurer(incident.GetSummary())},
		[2]string{"kept until", incident.GetSummary().GetKeptUntil()},
	)
	p.text(incident.GetAccount())
	for _, added := range incident.GetAmendments() {
		p.line("")
		p.line("Added %s by %s%s", when(added.GetAt(), zone), orID(added.GetByName(), added.GetBy()), suffixOf(phrase.InsurerSaid(added)))
		p.text(added.GetText())
	}
}

func suffixOf(text string) string {
	if text == "" {
		return ""
	}
	return ": " + text
}
