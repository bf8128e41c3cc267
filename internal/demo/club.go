package demo

import pb "gritward/proto/gritward/v1"

// The club, its people and the ride are invented; any likeness to a real one is chance.
const (
	clubID    = "marrowdale"
	clubTitle = "Marrowdale Road Club"
	clubZone  = "Europe/London"
)

// person is one invented member.
type person struct {
	name             string
	paceMin, paceMax float64
	leads, marks     bool
	leader           bool
	guardian         string
	bikes            []*pb.BikeFacts
	// stale: certified six weeks before the ride and not since.
	stale bool
	// joins names the bike ridden on Sunday, counted from 1; 0: stays at home.
	joins         int
	prefer, party string
}

// people lists the members. The first is the secretary.
func people() []person {
	return []person{
		{name: Secretary, paceMin: 21, paceMax: 25, leads: true, leader: true, joins: 1, prefer: "steady",
			bikes: bikes(winter("grey winter bike"), racer("summer bike"))},
		{name: Leader, paceMin: 25, paceMax: 29, leads: true, leader: true, joins: 1, prefer: "brisk",
			bikes: bikes(winter("black winter bike"))},
		{name: "Maren Tull", paceMin: 17, paceMax: 21, leads: true, joins: 1, prefer: "easy",
			bikes: bikes(with(winter("touring bike"), longLamps), racer("red racer"))},
		{name: "Bashir Quill", paceMin: 17, paceMax: 21, marks: true, joins: 1, prefer: "easy",
			bikes: bikes(with(winter("green winter bike"), longLamps))},
		{name: "Lowen Sparke", paceMin: 21, paceMax: 25, marks: true, joins: 1, prefer: "steady",
			bikes: bikes(winter("old steel bike"))},
		{name: "Yara Finn-Oake", paceMin: 25, paceMax: 29, marks: true, joins: 1, prefer: "brisk",
			bikes: bikes(winter("white winter bike"))},
		{name: "Desmond Arkle", paceMin: 26, paceMax: 30, joins: 1, prefer: "brisk", bikes: bikes(racer("racing bike"))},
		{name: "Petra Lindmoor", paceMin: 25, paceMax: 28, joins: 1, bikes: bikes(winter("blue winter bike"))},
		{name: "Anselm Croftby", paceMin: 26, paceMax: 29, joins: 1, bikes: bikes(with(winter("disc winter bike"), discs))},
		{name: Member, paceMin: 17, paceMax: 20, joins: 1, prefer: "easy",
			bikes: bikes(with(winter("mint winter bike"), shortRearLamp))},
		{name: "Jun Okare", paceMin: 24, paceMax: 27, joins: 1, bikes: bikes(winter("yellow bike"), racer("track bike"))},
		{name: "Saskia Thornby", paceMin: 21, paceMax: 24, joins: 1, party: "orchard", bikes: bikes(winter("winter bike"))},
		{name: "Rufus Ellandry", paceMin: 21, paceMax: 25, joins: 1, bikes: bikes(with(winter("commuter"), clipOns))},
		{name: "Noor Vasanthi", paceMin: 21, paceMax: 24, joins: 1, party: "orchard", bikes: bikes(winter("winter bike"))},
		{name: "Gwil Pryce-Moss", paceMin: 22, paceMax: 25, joins: 1, bikes: bikes(with(winter("winter bike"), noFlap))},
		{name: "Edda Brandholm", paceMin: 18, paceMax: 22, joins: 1, bikes: bikes(with(winter("dynamo bike"), dynamo))},
		{name: "Tam Orrin-Tull", paceMin: 16, paceMax: 21, guardian: "Maren Tull", joins: 1,
			bikes: bikes(with(winter("first road bike"), longLamps))},
		{name: "Fenella Wickery", paceMin: 17, paceMax: 20, joins: 1, prefer: "easy",
			bikes: bikes(with(winter("lilac bike"), longLamps))},
		{name: "Kit Arrowsby", paceMin: 17, paceMax: 21, joins: 1, bikes: bikes(with(winter("winter bike"), twoRearLamps))},
		{name: "Ludo Bascroft", paceMin: 25, paceMax: 28, bikes: bikes(racer("racing bike"))},
		{name: "Ines Carrowmoor", paceMin: 22, paceMax: 26, joins: 1, bikes: bikes(with(winter("winter bike"), noRearLamp))},
		{name: "Magnus Treadlow", paceMin: 25, paceMax: 30, joins: 1, bikes: bikes(winter("winter bike"))},
		{name: "Orla Pikestead", paceMin: 18, paceMax: 22, bikes: bikes(winter("winter bike"))},
		{name: "Silas Whinfell", paceMin: 21, paceMax: 25, stale: true, joins: 1, prefer: "steady",
			bikes: bikes(with(winter("winter bike"), october))},
		{name: "Thea Nordale", paceMin: 25, paceMax: 28, joins: 1, bikes: bikes(winter("winter bike"))},
		{name: "Wilf Yarrowby", paceMin: 16, paceMax: 20, joins: 1, prefer: "easy",
			bikes: bikes(with(winter("tourer"), longLamps), winter("spare bike"))},
	}
}
