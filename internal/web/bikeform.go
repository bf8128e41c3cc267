package web

import (
	"encoding/binary"
	"slices"
	"strconv"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// section is one system of a bike, as the form of a declaration asks about it.
type section struct {
	ID, Title string
	// Checks are those whose answers stand beside it.
	Checks []pb.Check
	// Ticks say in one sentence what a look at the bike found; a tick answers what is left open below (bikelook.go).
	Ticks []Field
	// Rows are asked first, More are behind a line to open.
	Rows, More []fieldRow
	// Lamps are the lamps, in the section that has them.
	Lamps []lampForm
	// Again: the bike was declared before.
	Again bool
	// Answers is what the club says about it as filled in.
	Answers []answer
}

// Whole is what is asked in a section, without the answers, in one string; "" where somebody's own words are in it.
func (s *section) Whole() (string, error) {
	all, usual := after(make([]byte, 0, 8<<10), s.ID, s.Title, strconv.FormatBool(s.Again)), true
	add := func(rows ...fieldRow) {
		all = binary.AppendUvarint(all, uint64(len(rows)))
		for _, row := range rows {
			all = binary.AppendUvarint(all, uint64(len(row)))
			for _, field := range row {
				all, usual = field.wholeAfter(all), usual && field.usual()
			}
		}
	}
	for _, lamp := range s.Lamps {
		all = after(all, lamp.Title, strconv.Itoa(lamp.At), lamp.End.Name, lamp.End.Value)
		add(lamp.Rows...)
		add(lamp.More...)
	}
	add(s.Ticks)
	add(s.Rows...)
	add(s.More...)
	if !usual {
		return "", nil
	}
	return string(all), nil
}

// said is what stands in the fields of a section, in their order.
func (s *section) said() (values []string) {
	rows := append([]fieldRow{s.Ticks}, slices.Concat(s.Rows, s.More)...)
	for _, lamp := range s.Lamps {
		rows = append(rows, slices.Concat([]fieldRow{{lamp.End}}, lamp.Rows, lamp.More)...)
	}
	for _, row := range rows {
		for _, field := range row {
			values = append(values, field.Value)
		}
	}
	return values
}

// fieldRow is one field, or the two of both ends.
type fieldRow []Field

// lampForm is one lamp of the form.
type lampForm struct {
	Title string
	// At is its place in the list, End the hidden field that says where it shines.
	At         int
	End        Field
	Rows, More []fieldRow
}

// facts is the prefix of the fields of a declaration.
const facts = "facts"

// yesNo are the answers to a question that may be left open.
var yesNo = []string{"", "not said", "true", "yes", "false", "no"}

// ends are the ends of a bike, by their fields.
var ends = [2]string{"front", "rear"}

func endWord(i int) string { return [2]string{"Front", "Rear"}[i] }

// both asks the same of both ends. Path and label have a %s for the end.
func both(path, label string, field func(name, label string) Field) fieldRow {
	row := make(fieldRow, 0, len(ends))
	for i, end := range ends {
		row = append(row, field(facts+"."+strings.Replace(path, "%s", end, 1), strings.Replace(label, "%s", endWord(i), 1)))
	}
	return row
}

func one(field Field) fieldRow { return fieldRow{field} }

func (f Form) choose(pairs ...string) func(name, label string) Field {
	return func(name, label string) Field { return f.Select(name, label, "", pairs...) }
}

func (f Form) mm(least, most string) func(name, label string) Field {
	return func(name, label string) Field { return f.Number(name, label, "", "mm", least, most, "any") }
}

func (f Form) day(name, label string) Field { return f.Date(name, label, "") }

// carried is a Check that keeps a no: where no was said before, and it is not ticked, it stays a no.
func (f Form) carried(name, label string) Field { return f.Check(facts+"."+name, label, "") }

// sections are all systems of a bike, the most asked first.
func (f Form) sections() []*section {
	return []*section{
		f.guards(), f.lights(), f.brakes(), f.tyres(), f.frame(), f.chain(), f.bearings(), f.contact(), f.reflectors(), f.cleaning(), f.carry(),
	}
}

func (f Form) guards() *section {
	return &section{
		ID: "guards", Title: "Mudguards", Checks: []pb.Check{pb.Check_GUARDS},
		Rows: []fieldRow{
			both("guards.%s.kind", "%s guard", f.choose("", "not said", "FIXED", "full, with stays", "CLIP_ON", "clip-on", "NONE", "none")),
			both("guards.%s.reach", "%s: lower end", f.choose("", "not said", "BELOW_HUB", "below the hub", "HUB", "at hub height", "ABOVE_HUB", "above the hub")),
			both("guards.%s.flap", "%s flap", f.choose(yesNo...)),
		},
		Ticks: []Field{f.Check("look.guards", "I looked: nothing is loose. Stays, bolts and bridge hold; nothing rubs or rattles.", "")},
		More: []fieldRow{
			both("guards.%s.secure", "%s: nothing loose", f.choose(yesNo...)),
			both("guards.%s.clearance_mm", "%s: gap to the tyre", f.mm("0", "50")),
			both("guards.%s.width_mm", "%s: width of the guard", f.mm("10", "120")),
			one(f.mm("0", "300")(facts+".guards.front.toe_gap_mm", "Gap between front guard and toe")),
		},
	}
}

func (f Form) brakes() *section {
	return &section{
		ID: "brakes", Title: "Brakes", Checks: []pb.Check{pb.Check_BRAKES},
		Rows: []fieldRow{
			both("brakes.%s.kind", "%s brake", f.choose("", "not said", "RIM", "rim", "DISC", "disc", "HUB", "hub", "FIXED_WHEEL", "fixed wheel", "NONE", "none")),
			one(f.Number("look.pad_mm", "Thinnest pad of all", "What is left to brake with, without the plate. Counts for every pad that has no figure of its own below.", "mm", "0", "20", "any")),
		},
		Ticks: []Field{f.Check("look.brakes", "I looked today: no oil or dirt, pads not glazed, rims not worn (groove still there, walls flat).", "")},
		More: []fieldRow{
			both("brakes.%s.pad_mm", "%s pads", f.mm("0", "20")),
			both("brakes.%s.compound", "%s pads are of", f.choose("", "not said", "RUBBER", "rubber (rim)", "RESIN", "resin (organic)", "SINTERED", "sintered metal", "SEMI_METALLIC", "semi-metallic")),
			both("brakes.%s.contaminated", "%s: oil or dirt on it", f.choose(yesNo...)),
			both("brakes.%s.glazed", "%s pads glazed", f.choose(yesNo...)),
			both("brakes.%s.rim_wear", "%s rim", f.choose("", "not said", "WITHIN", "not worn", "WORN", "worn out")),
			both("brakes.%s.rotor_mm", "%s disc, thinnest", f.mm("0", "5")),
			both("brakes.%s.rotor_min_mm", "%s disc, least (etched on it)", f.mm("0", "5")),
			both("brakes.%s.resin_only", "%s disc for resin pads only", f.choose(yesNo...)),
			both("brakes.%s.bedded_in", "%s pads bedded in", f.choose(yesNo...)),
			both("brakes.%s.pull", "%s is pulled by", f.choose("", "not said", "CABLE", "a cable", "HYDRAULIC", "a fluid")),
			both("brakes.%s.looked_on", "%s looked at on", f.day),
		},
	}
}

func (f Form) tyres() *section {
	return &section{
		ID: "tyres", Title: "Tyres", Checks: []pb.Check{pb.Check_TYRES},
		Rows: []fieldRow{
			both("tyres.%s.width_mm", "%s width", f.mm("15", "130")),
			both("tyres.%s.hard_wearing", "%s: hard-wearing, puncture layer", f.choose(yesNo...)),
		},
		Ticks: []Field{f.Check("look.tyres", "I looked today: tread good on both, no cuts.", "")},
		More: []fieldRow{
			both("tyres.%s.tread", "%s tread", f.choose("", "not said", "GOOD", "good, round", "WORN", "worn, squared off", "FINISHED", "finished, casing shows")),
			both("tyres.%s.cuts", "%s cuts", f.choose("", "not said", "NONE", "none", "SMALL", "small, cleaned out", "DEEP", "deep, or in the wall")),
			both("tyres.%s.clearance_mm", "%s: gap to frame or brake", f.mm("0", "50")),
			both("tyres.%s.tubeless", "%s without a tube", f.choose(yesNo...)),
			both("tyres.%s.pressure_bar", "%s pressure in the wet", func(name, label string) Field {
				return f.Number(name, label, "", "bar", "0.5", "12", "any")
			}),
			both("tyres.%s.looked_on", "%s looked at on", f.day),
			one(f.Select(facts+".tyres.summer_pair_stored", "Summer pair off the bike, stored cool, dry and dark", "", yesNo...)),
		},
	}
}

func (f Form) frame() *section {
	return &section{
		ID: "frame", Title: "Frame and fork", Checks: []pb.Check{pb.Check_FRAME},
		Rows: []fieldRow{one(f.Radio(facts+".frame.damage_open", "A crack, dent or rust that no mechanic has looked at?", "", "false", "none", "true", "there is"))},
		More: []fieldRow{
			one(f.day(facts+".frame.waxed_on", "Last waxed or treated against rust on")),
			{f.Select(facts+".frame.chainstay_protected", "Chainstay protected", "", yesNo...), f.Select(facts+".frame.cable_rub_protected", "Protected where cables and bags rub", "", yesNo...)},
		},
	}
}

func (f Form) chain() *section {
	return &section{
		ID: "chain", Title: "Chain", Checks: []pb.Check{pb.Check_CHAIN},
		More: []fieldRow{
			{f.Number(facts+".chain.speeds", "Sprockets on the rear wheel", "", "", "1", "14", "1"), f.Number(facts+".chain.wear_pct", "Wear over twelve inches", "", "%", "-0.5", "5", "any")},
			{f.day(facts+".chain.measured_on", "Measured on"), f.day(facts+".chain.cleaned_on", "Degreased and rinsed on")},
			{f.Select(facts+".chain.lubricant", "Lubricant on it", "", "", "not said", "WET", "for the wet", "DRY", "for the dry", "WAX", "wax"), f.day(facts+".chain.lubricated_on", "Lubricated on")},
		},
	}
}

// bearingPlaces are the bearings of a bike, by their fields.
var bearingPlaces = []struct{ field, label string }{
	{"headset", "Headset"}, {"bottom_bracket", "Bottom bracket"}, {"front_hub", "Front hub"}, {"rear_hub", "Rear hub"}, {"pedals", "Pedals"},
}

func (f Form) bearings() *section {
	s := &section{
		ID: "bearings", Title: "Bearings", Checks: []pb.Check{pb.Check_BEARINGS},
		Ticks: []Field{f.Check("look.bearings", "I tried them: headset, bottom bracket, hubs and pedals turn smoothly, without play.", "")},
	}
	for _, place := range bearingPlaces {
		at := facts + ".bearings." + place.field
		s.More = append(s.More, fieldRow{
			f.Select(at+".feel", place.label, "", "", "not said", "SMOOTH", "smooth, no play", "ROUGH", "rough", "LOOSE", "has play"),
			f.day(at+".serviced_on", place.label+" serviced on"),
		})
	}
	return s
}

func (f Form) contact() *section {
	return &section{
		ID: "contact", Title: "Bars, saddle, pedals", Checks: []pb.Check{pb.Check_CONTACT},
		Ticks: []Field{f.Check("look.contact", "I looked: bar ends plugged, saddle sound and tight, cleats (if any) hold and let go.", "")},
		More: []fieldRow{
			{f.Select(facts+".contact.tape", "Bar tape or grips", "", "", "not said", "SINGLE", "one layer, sound", "DOUBLE", "two layers or padded", "WORN", "worn or loose"),
				f.Select(facts+".contact.pedals", "Pedals", "", "", "not said", "FLAT", "flat", "TOE_CLIPS", "with toe clips", "CLEATS", "for cleats")},
			{f.Select(facts+".contact.bar_ends_plugged", "Bar ends plugged", "", yesNo...), f.Select(facts+".contact.saddle", "Saddle", "", "", "not said", "SOUND", "sound", "POOR", "torn, soaked or moves")},
			one(f.Select(facts+".contact.cleats_sound", "Cleats hold and let go", "", yesNo...)),
		},
	}
}

func (f Form) reflectors() *section {
	s := &section{ID: "reflectors", Title: "Reflectors", Checks: []pb.Check{pb.Check_REFLECTORS}}
	for _, pair := range [][4]string{{"rear", "Red, to the rear", "pedals", "Amber, on both pedals"}, {"front", "White, to the front", "wheels", "On wheels or tyre walls"}} {
		s.More = append(s.More, fieldRow{f.Select(facts+".reflectors."+pair[0], pair[1], "", yesNo...), f.Select(facts+".reflectors."+pair[2], pair[3], "", yesNo...)})
	}
	return s
}

func (f Form) cleaning() *section {
	return &section{
		ID: "cleaning", Title: "Washing and look-over", Checks: []pb.Check{pb.Check_CLEAN},
		More: []fieldRow{
			{f.day(facts+".cleaning.washed_on", "Washed on"), f.day(facts+".cleaning.looked_over_on", "Looked over for damage on")},
			one(f.Text(facts+".cleaning.damage_open", "Found, and not yet put right", "Frame, rims, spokes, cables, bolts.", 300)),
		},
	}
}

func (f Form) carry() *section {
	s := &section{ID: "carry", Title: "What comes along", Checks: []pb.Check{pb.Check_CARRY}}
	s.More = append(s.More, one(f.Number(facts+".carry.tubes", "Spare inner tubes", "", "", "0", "20", "1")))
	for _, pair := range strings.Split(kit, "\n") {
		name, label, _ := strings.Cut(pair, "=")
		s.More = append(s.More, one(f.carried("carry."+name, label)))
	}
	return s
}

// kit is what is carried, by its field.
const kit = `pump=Pump or gas inflator
tyre_levers=Tyre levers
multi_tool=Multi-tool
chain_link=Chain tool or spare link
tyre_boot=Tyre boot for a cut casing
phone=Telephone, charged
contact_card=Name and emergency contact on paper
first_aid=First-aid kit
warm_layer=Foil blanket or spare warm layer
waterproof=Waterproof
food=Food and money`

// rest is what belongs to no system.
func (f Form) rest() []fieldRow {
	return []fieldRow{
		{f.Number(facts+".odometer_km", "Odometer", "", "km", "0", "1000000", "any"), f.Select(facts+".motor", "A motor helps", "", yesNo...)},
		one(f.Area(facts+".note", "Anything else a leader should know", "", 500)),
	}
}
