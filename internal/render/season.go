package render

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// SeasonHTML writes the report of a season as one page complete in itself, with its pictures: no script, nothing loaded from
// elsewhere, good on paper and without colour. Nothing is written if it cannot be made whole; otherwise the error is the
// writer's.
func SeasonHTML(w io.Writer, r *pb.SeasonReport) error {
	css, err := files.ReadFile("templates/page.css")
	if err != nil {
		return err
	}
	more, err := files.ReadFile("templates/season.css")
	if err != nil {
		return err
	}
	var b bytes.Buffer
	v := newSeasonView(r)
	v.CSS = template.CSS(string(css) + string(more))
	if err := templates().ExecuteTemplate(&b, "season.html.tmpl", v); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

// SeasonBody writes the report of a season as the part of a page that follows its heading, with its pictures. SeasonStyle is
// its style; it uses the colours --rule and --accent. Nothing is written if it cannot be made whole.
func SeasonBody(w io.Writer, r *pb.SeasonReport) error {
	var b bytes.Buffer
	if err := templates().ExecuteTemplate(&b, "season.body.tmpl", newSeasonView(r)); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

// SeasonStyle is the style of SeasonBody.
func SeasonStyle() ([]byte, error) { return files.ReadFile("templates/season.css") }

// seasonView is a report as the page shows it.
type seasonView struct {
	CSS                                            template.CSS
	Club, Days, Made                               string
	Facts                                          []seasonFact
	Missing                                        []string
	Charts                                         []seasonChart
	Rides, Margins, Rules, Remedies, Riders, Bikes seasonTable
	NamesTold, NoRidesAt                           bool
}

type seasonFact struct{ Term, Value string }

// seasonTable is a table of the report. The first Named cells of a row say whose it is.
type seasonTable struct {
	Caption string
	Columns []string
	Named   int
	Rows    [][]string
}

// Row is a row, cell by cell, as it is shown where there is no room for columns too.
func (t seasonTable) Row(cells []string) (row []seasonCell) {
	for i, words := range cells {
		row = append(row, seasonCell{Of: t.Columns[i], Words: words, First: i == 0, Names: i < t.Named, Last: i == t.Named-1})
	}
	return row
}

// seasonCell is a cell, with the column that it is of.
type seasonCell struct {
	Of, Words          string
	First, Names, Last bool
}

func newSeasonView(r *pb.SeasonReport) *seasonView {
	r = cleaned(r)
	v := &seasonView{Club: r.GetClubTitle(), Days: phrase.Day(r.GetFrom()) + " to " + phrase.Day(r.GetTo()), Missing: r.GetMissing(),
		NamesTold: r.GetNamesTold(), NoRidesAt: len(r.GetRides()) == 0}
	if zone, err := time.LoadLocation(r.GetZone()); err == nil && r.GetMadeAt() != nil {
		v.Made = r.GetMadeAt().AsTime().In(zone).Format("Monday 2 January 2006, 15:04")
	}
	for _, fact := range SeasonFacts(r) {
		v.Facts = append(v.Facts, seasonFact{fact[0], fact[1]})
	}
	v.Rides = seasonTable{"", []string{"Day", "Ride", "Outcome", "Set out", "Groups", "Wishes met", "Note"}, 2, nil}
	for _, ride := range r.GetRides() {
		v.Rides.Rows = append(v.Rides.Rows, SeasonRideRow(r, ride))
	}
	v.Margins = seasonTable{"Planned home, against the beginning of dark", []string{"Day", "Ride", "Group", "Home", "With lights", "Took"}, 3, SmallestMargins(r, 10)}
	v.Rules = seasonTable{"A rider on a ride counts once", []string{"Rule", "Times", "Held", "At the back", "Advised", "Not declared"}, 1, nil}
	for _, rule := range r.GetRules() {
		v.Rules.Rows = append(v.Rules.Rows, SeasonRuleRow(rule))
	}
	v.Remedies = seasonTable{"What was asked for; … stands for a number", []string{"Remedy", "Times"}, 1, nil}
	for _, remedy := range r.GetRemedies() {
		v.Remedies.Rows = append(v.Remedies.Rows, []string{remedy.GetRemedy(), fmt.Sprint(remedy.GetTimes())})
	}
	v.Riders = seasonTable{"", []string{"Rider", "Set out", "Home with the group", "Left waiting"}, 1, nil}
	for _, rider := range r.GetRiders() {
		v.Riders.Rows = append(v.Riders.Rows, []string{RiderName(rider), fmt.Sprint(rider.GetRode()), fmt.Sprint(rider.GetHome()), fmt.Sprint(rider.GetWaiting())})
	}
	v.Bikes = seasonTable{"Kilometres of club rides ridden home; who turned back counts none", []string{"Member", "Bike", "Rides", "km", "Wet", "Chain wear"}, 2, nil}
	for _, bike := range r.GetBikes() {
		v.Bikes.Rows = append(v.Bikes.Rows, SeasonBikeRow(bike))
	}
	if !v.NoRidesAt {
		v.Charts = seasonCharts(r)
	}
	return v
}

// SeasonFacts are the sums of a report in words, each with its label: the same on the page and in text.
func SeasonFacts(r *pb.SeasonReport) [][2]string {
	t := r.GetTotals()
	rides := fmt.Sprintf("%d: %d ridden, %d called off, %d not recorded, %d to come", t.GetRides(), t.GetHeld(), t.GetCalledOff(), t.GetNotRecorded(), t.GetToCome())
	if n := t.GetUnderWay(); n > 0 {
		rides += fmt.Sprintf(", %d not ended", n)
	}
	facts := [][2]string{
		{"Rides", rides},
		{"Riders setting out", fmt.Sprintf("%d by %s; %d home with the group, %d turned back or left it", t.GetRode(),
			phrase.Counted(int(t.GetRiders()), "person", "people"), t.GetHome(), t.GetTurnedBack())},
		{"Signed up", fmt.Sprintf("%d; %d left waiting, %d withdrawn, %d did not come", t.GetSignups(), t.GetWaiting(), t.GetWithdrawn(), t.GetDidNotCome())},
		{"Groups", fmt.Sprintf("%d ran, %d did not", t.GetGroupsRun(), t.GetGroupsIdle())},
		{"Ridden home", fmt.Sprintf("%.0f km by bikes, %d of %d rides of a bike on a wet road", t.GetKm(), t.GetWetBikeRides(), t.GetBikeRides())},
		{"Wet rides", fmt.Sprintf("%d of %d ridden", t.GetWetRides(), t.GetHeld())},
		{"Standings", standingWords(t.GetStandings())},
		{"Wishes for a group", fmt.Sprintf("%d of %d met", t.GetWishesMet(), t.GetWishes())},
	}
	if t.GetTimedGroups() > 0 && t.GetPlannedMin() > 0 {
		facts = append(facts, [2]string{"Times", fmt.Sprintf("%s of %s took %.0f min riding where %.0f were planned: %+.0f %%",
			phrase.Counted(int(t.GetTimedGroups()), "group", "groups"), fmt.Sprint(t.GetGroupsRun()), t.GetTookMin(), t.GetPlannedMin(), 100*(t.GetTookMin()/t.GetPlannedMin()-1))})
	} else {
		facts = append(facts, [2]string{"Times", "none recorded"})
	}
	return append(facts,
		[2]string{"Told overdue", phrase.Counted(int(t.GetOverdueNotices()), "notice", "notices")},
		[2]string{"Incidents", fmt.Sprint(t.GetIncidents())})
}

func standingWords(c *pb.StandingCount) string {
	return fmt.Sprintf("%d clear, %d advised, %d at the back, %d held, by the newest issue of each ride", c.GetClear(), c.GetAdvised(), c.GetBack(), c.GetHeld())
}

// OutcomeWord tells what became of a ride.
func OutcomeWord(ride *pb.SeasonRide) string {
	switch ride.GetOutcome() {
	case pb.SeasonRide_HELD:
		return "ridden"
	case pb.SeasonRide_CALLED_OFF:
		return "called off"
	case pb.SeasonRide_NOT_RECORDED:
		return "not recorded"
	case pb.SeasonRide_TO_COME:
		return "to come"
	case pb.SeasonRide_UNDER_WAY:
		return "not ended"
	}
	return "not known"
}

// SeasonRideRow is a ride of a report as a row: day, title, what became of it, riders, groups, wishes, note.
func SeasonRideRow(r *pb.SeasonReport, ride *pb.SeasonRide) []string {
	rode, note := "–", ride.GetCallOffReason()
	if ride.GetOutcome() == pb.SeasonRide_HELD || ride.GetRode() > 0 && ride.GetOutcome() == pb.SeasonRide_UNDER_WAY {
		rode = fmt.Sprintf("%d of %d", ride.GetRode(), ride.GetSignups())
	}
	if ride.GetWet() {
		note = phrase.FirstOf(note, "wet road")
	}
	if n := ride.GetWaiting(); n > 0 {
		note = joinWords(note, fmt.Sprintf("%d left waiting", n))
	}
	wishes := "–"
	if ride.GetWishes() > 0 {
		wishes = fmt.Sprintf("%d of %d", ride.GetWishesMet(), ride.GetWishes())
	}
	return []string{seasonDay(r, ride.GetDay()), ride.GetTitle(), OutcomeWord(ride), rode, fmt.Sprint(len(ride.GetGroups())), wishes, note}
}

// seasonDay is a day of a report, with its year where the report has it twice.
func seasonDay(r *pb.SeasonReport, day string) string {
	from, err1 := time.Parse(time.DateOnly, r.GetFrom())
	to, err2 := time.Parse(time.DateOnly, r.GetTo())
	if err1 == nil && err2 == nil && to.Before(from.AddDate(1, 0, 0)) {
		return phrase.DayShort(day)
	}
	return phrase.Day(day)
}

// SeasonRuleRow is a rule as a row: its name, how often it was not met, and what of it.
func SeasonRuleRow(rule *pb.RuleCount) []string {
	return []string{phrase.RuleTitle(rule.GetRule()), fmt.Sprint(rule.GetTimes()), fmt.Sprint(rule.GetHeld()), fmt.Sprint(rule.GetBack()),
		fmt.Sprint(rule.GetAdvised()), fmt.Sprint(rule.GetNotDeclared())}
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// RiderName is a rider's name; a former member's record has none.
func RiderName(rider *pb.SeasonRider) string {
	return phrase.FirstOf(rider.GetDisplayName(), "former member")
}

// SeasonBikeRow is a bike as a row: whose, title, rides, km, wet rides, chain.
func SeasonBikeRow(bike *pb.SeasonBike) []string {
	chain := "not measured"
	switch {
	case bike.ChainFirstPct == nil:
	case bike.ChainLastPct == nil:
		chain = fmt.Sprintf("%.2f %% on %s", bike.GetChainFirstPct(), phrase.Day(bike.GetChainFirstOn()))
	default:
		chain = fmt.Sprintf("%.2f %% on %s, %.2f %% on %s", bike.GetChainFirstPct(), phrase.Day(bike.GetChainFirstOn()), bike.GetChainLastPct(), phrase.Day(bike.GetChainLastOn()))
		if bike.GetChainReplaced() {
			chain += ", a new chain between"
		}
	}
	return []string{phrase.FirstOf(bike.GetDisplayName(), "former member"), bike.GetTitle(), fmt.Sprint(bike.GetRides()), fmt.Sprintf("%.0f", bike.GetKm()),
		fmt.Sprint(bike.GetWetRides()), chain}
}
