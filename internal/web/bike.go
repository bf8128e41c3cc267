package web

import (
	"gritward/internal/civil"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *site) bikeRoutes() {
	const all, bike = "/clubs/{club}/members/{member}/bikes", "/clubs/{club}/members/{member}/bikes/{bike}"
	s.show("GET "+all, (*visit).showBikes)
	s.show("GET "+all+"/new", (*visit).newBike)
	s.take(all+"/new", (*visit).declare)
	s.take(all+"/new/answer", (*visit).answered)
	s.show("GET "+bike, (*visit).showBike)
	s.show("GET "+bike+"/declare", (*visit).editBike)
	s.take(bike+"/declare", (*visit).declare)
	s.take(bike+"/answer", (*visit).answered)
	s.show("GET "+bike+"/again", (*visit).askAgain)
	s.take(bike+"/again", (*visit).again)
	s.show("GET "+bike+"/declarations", (*visit).declarations)
	s.show("GET "+bike+"/declarations/{revision}", (*visit).declaration)
	s.show("GET "+bike+"/retire", (*visit).askRetire)
	s.take(bike+"/retire", (*visit).retire)
	s.show("GET "+bike+"/care", (*visit).showCare)
	s.show("GET "+bike+"/care/new", (*visit).newCare)
	s.take(bike+"/care/new", (*visit).recordCare)
	s.take(bike+"/care", (*visit).strikeCare)
}

// bikesView are the bikes of a member.
type bikesView struct {
	Member string
	// Own: they are those of who looks.
	Own          bool
	Bikes, Spent []bikeCard
	Due          []dueView
}

// bikeCard is a bike in a list.
type bikeCard struct {
	*pb.Bike
	Title string
	// Certified is when it was certified last, Age how long ago.
	Certified, Age string
	// Doubtful: a look-over at the start found something that was not certified since.
	Doubtful bool
}

func (v *visit) cardOf(bike *pb.Bike) bikeCard {
	at := bike.GetDeclaration().GetCertifiedAt()
	return bikeCard{Bike: bike, Title: bike.GetDeclaration().GetFacts().GetTitle(), Certified: v.watch().Date(at), Age: v.daysAgo(at.AsTime().Unix())}
}

// daysAgo tells how many days ago an instant was: "today", "3 days ago".
func (v *visit) daysAgo(unix int64) string {
	const day = 24 * 60 * 60
	switch days := (v.Now().Unix() - unix) / day; {
	case days < 1:
		return "within the last day"
	default:
		return phrase.Counted(int(days), "day", "days") + " ago"
	}
}

// showBikes lists a member's bikes, and what is due on them.
func (v *visit) showBikes() error {
	bikes, err := v.bikesOf(v.asked())
	if err != nil {
		return err
	}
	page := &bikesView{Member: v.asked(), Own: v.asked() == v.me()}
	titles := map[string]string{}
	for _, bike := range bikes {
		card := v.cardOf(bike)
		titles[bike.Name] = card.Title
		if bike.RetiredAt != nil {
			page.Spent = append(page.Spent, card)
		} else {
			page.Bikes = append(page.Bikes, card)
		}
	}
	if page.Own {
		if page.Due, err = v.due(v.asked(), titles, ahead); err != nil {
			return err
		}
	}
	if page.Own {
		return v.view("bikes", "My bikes", page)
	}
	return v.view("bikes", "Bikes", page)
}

// dueView is one thing that is due.
type dueView struct {
	*pb.DueItem
	// Title is that of the bike; empty on a page of the bike itself.
	Title string
	// When tells since or until when: "since 1 December", "by 20 December".
	When string
	// Again: certifying again does it.
	Again bool
}

// Means says what it costs while it is not done.
func (d dueView) Means() string { return meansOf(d.Standing) }

// Shape is that of the standing once it is overdue, and before then one of its own.
func (d dueView) Shape() string {
	if d.Urgency == pb.DueItem_OVERDUE {
		return phrase.StandingShape(d.Standing)
	}
	return "◷"
}

// ahead is how many days ahead a bike's own page looks.
const ahead = 28

// due is what is due on bikes, overdue or soon; what nothing was declared for is left to the declaration.
func (v *visit) due(parent string, titles map[string]string, days int32) ([]dueView, error) {
	response, err := v.bikes.ListDue(v.ctx, &pb.ListDueRequest{Parent: parent, DaysAhead: days})
	if err != nil {
		if problemOf(err).Reason == pb.Reason_NO_POLICY {
			return nil, nil
		}
		return nil, err
	}
	var all []dueView
	for _, item := range response.Items {
		if item.Urgency != pb.DueItem_OVERDUE && item.Urgency != pb.DueItem_SOON || item.Cause == pb.DueItem_NOT_DECLARED {
			continue
		}
		if title, ok := titles[item.Bike]; ok {
			all = append(all, dueView{item, title, whenDue(item), item.Check == pb.Check_DECLARATION})
		}
	}
	return all, nil
}

func whenDue(item *pb.DueItem) string {
	day := dayWords(item.DueOn)
	switch {
	case day != "" && item.Urgency == pb.DueItem_OVERDUE:
		return "since " + day
	case day != "":
		return "by " + day
	case item.DueInKm != nil && item.Urgency != pb.DueItem_OVERDUE:
		return "in " + phrase.Number(*item.DueInKm, 0) + " km"
	case item.Urgency == pb.DueItem_OVERDUE:
		return "now"
	}
	return ""
}

// dayWords tells a civil date in words; as it is where it is none.
func dayWords(date string) string {
	if day, err := civil.Date("", date); err == nil {
		return day.Format("2 January 2006")
	}
	return date
}
