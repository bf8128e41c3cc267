package cli

import (
	"bytes"
	"gritward/internal/names"
	"testing"
	"time"

	"github.com/spf13/pflag"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// What the tests of this package, which stand outside it, need to see of its inside.

// ReadBike, BikeFile and ExampleBike are the reading and writing of bike files.
var (
	ReadBike    = readBike
	BikeFile    = bikeFile
	ExampleBike = exampleBike
)

// WithGroup is who of a group a mark is about that names nobody.
var WithGroup = withGroup

// NextFirst is the order of rides in a list.
var NextFirst = nextFirst

// Clean is what makes text safe for a terminal.
var Clean = clean

// Readers of the values of flags.
var (
	StopOf    = stopOf
	PlaceOf   = placeOf
	LocalTime = localTime
	DateOf    = dateOf
	LaterOf   = laterOf
	AmountOf  = amountOf
	PaceOf    = paceOf
	RolesOf   = rolesOf
)

// GroupOf reads a group, and tells which options were given.
func GroupOf(text string) (group *pb.Group, given map[string]bool, err error) {
	flag, err := groupOf(text)
	return flag.group, flag.given, err
}

// ChangedFacts tells what is new of a bike.
var ChangedFacts = changedFacts

// Words of the client for what the server says.
var (
	Told         = told
	WeatherWords = weatherWords
	RolesHint    = rolesHint
	Cause        = cause
	Wrap         = wrap
)

// FieldLine tells what is wrong with a field of a request, after this command line.
func FieldLine(path, what string, line ...string) string {
	a := &app{}
	root := a.root()
	cmd, rest, err := root.Find(line)
	if err != nil {
		return err.Error()
	}
	if err := cmd.ParseFlags(rest); err != nil {
		return err.Error()
	}
	a.cmd, a.args = cmd, cmd.Flags().Args()
	return a.fieldLine(path, what)
}

// Pages of answers, as text.
var (
	StandingsWords = standingsWords

	LayLifts      = paged(layLifts)
	LayPreview    = paged(func(p *page, answer *pb.PreviewPolicyResponse) { layPreview(p, answer, memberBike) })
	LayDifference = paged(layDifference)
	LayScore      = paged(layScore)
	LayPaces      = paged(layPaces)
	LayDraft      = paged(layPublishable)
)

// LayTimes is recorded times as text, with clocks in UTC.
func LayTimes(times []*pb.RecordedTime) string {
	p := &page{}
	layTimes(p, times, time.UTC)
	return p.b.String()
}

// LayShortLift is the short form of what would lift a bike.
func LayShortLift(lifts []*pb.Lift) string {
	p := &page{}
	layShortLift(p, "blue", "r1", lifts)
	return p.b.String()
}

// LayDue is what is due, as text.
func LayDue(items []*pb.DueItem, later bool) string {
	p := &page{}
	layDue(p, items, later, memberBike)
	return p.b.String()
}

// LayStale is what an issue does not say yet, as text.
func LayStale(issue *pb.Roster, mine bool) string {
	p := &page{}
	layStale(p, issue, mine)
	return p.b.String()
}

// LayAssessments is standings with their findings, as text.
func LayAssessments(list []*pb.Assessment, all bool) string {
	p := &page{}
	p.assessments(list, render.Titles{}, all)
	return p.b.String()
}

func paged[T any](lay func(p *page, of T)) func(of T) string {
	return func(of T) string {
		p := &page{}
		lay(p, of)
		return p.b.String()
	}
}

// Table lays out a table.
func Table(colour bool, head []string, rows [][]string) string {
	p := &page{colour: colour}
	p.table(head, rows)
	return p.b.String()
}

// Progress starts telling that something goes on.
func Progress(world IO, what string) (done func()) { return (&app{io: world}).progress(what) }

// Confirm asks.
func Confirm(world IO, question string) error { return (&app{io: world}).confirm(question) }

// AllPages reads pages until the last.
func AllPages(read func(token string) ([]*pb.Bike, string, error)) ([]*pb.Bike, error) {
	return allPages(read)
}

// DefaultTimeout is how long one call may take.
const DefaultTimeout time.Duration = defaultTimeout

// KeepSettings reads groups, and keeps of those there before what is not said anew.
func KeepSettings(texts []string, before []*pb.Group) ([]*pb.Group, error) {
	flags, err := parseAll(texts, groupOf)
	return keepSettings(flags, before), err
}

// OutlookReckoner reads a route and a command line, and gives what reckons the season and tells how many dates it has.
func OutlookReckoner(t testing.TB, gpx []byte, args []string) (reckon func() (days int)) {
	set := pflag.NewFlagSet("outlook", pflag.ContinueOnError)
	flags := addOutlookFlags(set)
	if err := set.Parse(args); err != nil {
		t.Fatal(err)
	}
	ask, err := flags.read(false)
	if err != nil {
		t.Fatal(err)
	}
	if ask.line, err = (&app{io: IO{In: bytes.NewReader(gpx)}}).readRoute("-"); err != nil {
		t.Fatal(err)
	}
	return func() int {
		season, err := reckonOutlook(ask)
		if err != nil {
			t.Fatal(err)
		}
		return len(season.days)
	}
}

// Meant finds which of those in the list a person means.
func Meant(ref string, called map[string]string) (string, error) { return meant(ref, called) }

// Ref is what to type for a member of the list, and Named a text with it in the place of ids.
func Ref(all map[string]string, member string) string { return people(all).ref(member) }
func Named(all map[string]string, text string) string { return (&app{known: all}).named(text) }

// memberBike is a bike by the ids of its member and its own.
func memberBike(name string) string {
	return names.Part(name, "members") + "/" + names.Part(name, "bikes")
}
