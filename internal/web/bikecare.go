package web

import (
	"cmp"
	"slices"
	"strings"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// careKind is a kind of work on a bike, and what is asked about it.
type careKind struct {
	Value, Label string
	// Asks are the fields that go with it: end, bearing, wear, thickness, label.
	Asks string
}

// careKinds are those that can be recorded, what is done most first.
var careKinds = []careKind{
	{"CHAIN_LUBRICATED", "Chain lubricated and wiped off", ""},
	{"WASHED", "Bike washed", ""},
	{"LIGHT_CHARGED", "Lamp charged, or new cells", "end label"},
	{"LOOKED_OVER", "Looked over for damage", ""},
	{"CHAIN_MEASURED", "Chain measured", "wear"},
	{"PADS_MEASURED", "Brake pads measured", "end thickness"},
	{"TYRE_LOOKED_OVER", "Tyre looked over for cuts", "end"},
	{"CHAIN_DEGREASED", "Chain degreased and rinsed", ""},
	{"CHAIN_RENEWED", "New chain", ""},
	{"PADS_RENEWED", "New brake pads", "end"},
	{"PADS_BEDDED_IN", "Brake pads bedded in", "end"},
	{"TYRE_RENEWED", "New or other tyre", "end"},
	{"GUARD_FITTED", "Guard fitted or made secure", "end"},
	{"ROTOR_MEASURED", "Brake disc measured", "end thickness"},
	{"BRAKING_SURFACE_RENEWED", "New disc or rim", "end"},
	{"BEARING_SERVICED", "Bearing serviced", "bearing"},
	{"FRAME_WAXED", "Frame waxed or treated", ""},
	{"FRAME_PROTECTED", "Frame protection fitted", ""},
	{"CONTACT_RENEWED", "Tape, saddle or pedals renewed", ""},
}

// careWord names a kind of work.
func careWord(work pb.CareEntry_Work) string {
	for _, kind := range careKinds {
		if kind.Value == work.String() {
			return kind.Label
		}
	}
	return "Struck out"
}

// careView is a bike's care log and what is due.
type careView struct {
	*bikeView
	Entries []careRow
	// Wear tells how far parts will go.
	Wear []string
}

// careRow is an entry of a care log.
type careRow struct {
	*pb.CareEntry
	What, On string
	// Struck: it counts for nothing.
	Struck bool
}

// careLog reads the whole care log of a bike.
func (v *visit) careLog(bike string) ([]*pb.CareEntry, error) {
	var all []*pb.CareEntry
	for token := ""; ; {
		page, err := v.bikes.ListCare(v.ctx, &pb.ListCareRequest{Parent: bike, PageSize: 1000, PageToken: token})
		if err != nil {
			return nil, err
		}
		all = append(all, page.Entries...)
		if token = page.NextPageToken; token == "" {
			return all, nil
		}
	}
}

// showCare shows what is due on a bike, how it wears, and what was done, newest first.
func (v *visit) showCare() error {
	bike, err := v.getBike()
	if err != nil {
		return err
	}
	page := &careView{bikeView: bike}
	log, err := v.careLog(bike.Name)
	if err != nil {
		return err
	}
	struck := map[string]bool{}
	for _, entry := range slices.Backward(log) {
		if entry.Work == pb.CareEntry_STRUCK_OUT && !struck[entry.Name] {
			struck[entry.Strikes] = true
		}
	}
	for _, entry := range log {
		if entry.Work != pb.CareEntry_STRUCK_OUT {
			page.Entries = append(page.Entries, careRow{entry, careWords(entry), dayWords(entry.DoneOn), struck[entry.Name]})
		}
	}
	slices.SortStableFunc(page.Entries, func(a, b careRow) int { return cmp.Compare(b.DoneOn, a.DoneOn) })
	if page.Own && page.RetiredAt == nil {
		if err := v.wear(page); err != nil {
			return err
		}
	}
	return v.view("care", "Care of "+bike.Title, page)
}

// wear adds what is due, and how far parts will go.
func (v *visit) wear(page *careView) error {
	response, err := v.bikes.ListDue(v.ctx, &pb.ListDueRequest{Parent: page.Name})
	if err != nil {
		if problemOf(err).Reason == pb.Reason_NO_POLICY {
			return nil
		}
		return err
	}
	for _, item := range response.Items {
		if words := item.GetProjection().GetWords(); words != "" && !slices.Contains(page.Wear, words) {
			page.Wear = append(page.Wear, words)
		}
	}
	page.Due, err = v.due(page.Name, map[string]string{page.Name: ""}, ahead)
	return err
}

// careWords tells what was done, where, and what was measured.
func careWords(entry *pb.CareEntry) string {
	parts := []string{careWord(entry.Work)}
	if entry.End != pb.End_END_UNSPECIFIED {
		parts = append(parts, strings.ToLower(entry.End.String()))
	}
	if entry.Bearing != pb.CareEntry_PLACE_UNSPECIFIED {
		parts = append(parts, strings.ToLower(strings.ReplaceAll(entry.Bearing.String(), "_", " ")))
	}
	if entry.Label != "" {
		parts = append(parts, entry.Label)
	}
	if entry.WearPct != nil {
		parts = append(parts, phrase.Number(*entry.WearPct, 2)+" %")
	}
	if entry.ThicknessMm != nil {
		parts = append(parts, phrase.Number(*entry.ThicknessMm, 2)+" mm")
	}
	if entry.OdometerKm != nil {
		parts = append(parts, "at "+phrase.Number(*entry.OdometerKm, 0)+" km")
	}
	return strings.Join(parts, ", ")
}

// careForm is the page on which work is recorded.
type careForm struct {
	Bike bikeCard
	// Kinds are what to choose from, Kind what was chosen; nil: nothing yet.
	Kinds []careKind
	Kind  *careKind
	// Labels are what the lamps of the bike are called.
	Labels []string
	Today  string
	Fields []fieldRow
}

// filled lays out what is asked about the kind of work chosen.
func (c *careForm) filled(form *Form) {
	if c.Kind == nil {
		return
	}
	if form.Values.Get("entry.done_on") == "" {
		form.Values.Set("entry.done_on", c.Today)
	}
	asks := func(what string) bool { return slices.Contains(strings.Fields(c.Kind.Asks), what) }
	add := func(field Field) { c.Fields = append(c.Fields, one(field)) }
	c.Fields = nil
	if asks("end") {
		add(form.Radio("entry.end", "Which end", "", "FRONT", "front", "REAR", "rear"))
	}
	if asks("bearing") {
		add(form.Radio("entry.bearing", "Which bearing", "", "HEADSET", "headset", "BOTTOM_BRACKET", "bottom bracket", "FRONT_HUB", "front hub", "REAR_HUB", "rear hub", "PEDALS", "pedals"))
	}
	if asks("wear") {
		add(form.Number("entry.wear_pct", "Wear over twelve inches", "A new chain measures about 0.", "%", "-0.5", "5", "any"))
	}
	if asks("thickness") {
		add(form.Number("entry.thickness_mm", "Thickness left", "", "mm", "0", "20", "any"))
	}
	if asks("label") && len(c.Labels) > 0 {
		pairs := []string{"", "all of that end"}
		for _, label := range c.Labels {
			pairs = append(pairs, label, label)
		}
		add(form.Select("entry.label", "Which lamp", "", pairs...))
	}
	if form.Wrong["measured_again"] != "" {
		add(form.Check("measured_again", "I have measured again, and it is so", ""))
	}
	add(form.Date("entry.done_on", "Done on", ""))
	c.Fields = append(c.Fields, one(form.Number("entry.odometer_km", "Odometer, if read", "", "km", "0", "1000000", "any")),
		one(form.Text("entry.note", "Note", "Needed where a part measures less worn than before.", 500)))
}

// careFormOf is the form for a bike, and the kind of work that is chosen.
func (v *visit) careFormOf(work string) (*careForm, error) {
	bike, err := v.getBike()
	if err != nil {
		return nil, err
	}
	page := &careForm{Bike: bike.bikeCard, Kinds: careKinds, Today: v.today()}
	for i, kind := range careKinds {
		if kind.Value == work {
			page.Kind = &careKinds[i]
		}
	}
	for _, lamp := range bike.InEffect.GetLights() {
		if lamp.Label != "" && !slices.Contains(page.Labels, lamp.Label) {
			page.Labels = append(page.Labels, lamp.Label)
		}
	}
	return page, nil
}

// newCare asks what was done, and then about it.
func (v *visit) newCare() error {
	page, err := v.careFormOf(v.r.URL.Query().Get("work"))
	if err != nil {
		return err
	}
	return v.view("care-new", careTitle(page), page)
}

func careTitle(page *careForm) string {
	if page.Kind == nil {
		return "What was done?"
	}
	return page.Kind.Label
}

// recordCare records what was done.
func (v *visit) recordCare() error {
	page, err := v.careFormOf(v.form().Get("entry.work"))
	if err != nil {
		return err
	}
	entry := &pb.CareEntry{}
	if err = fillIn(entry, "entry", v.form()); err == nil {
		_, err = v.bikes.RecordCare(v.ctx, &pb.RecordCareRequest{Parent: v.bike(), Entry: entry, RequestId: v.form().Get("once"),
			MeasuredAgain: v.form().Get("measured_again") == "true"})
	}
	if err != nil {
		v.refuse(err, "care-new", careTitle(page), page)
		return nil
	}
	return v.to("/"+v.bike()+"/care", "recorded")
}

// strikeCare strikes an entry out that was recorded by mistake.
func (v *visit) strikeCare() error {
	entry := &pb.CareEntry{Work: pb.CareEntry_STRUCK_OUT, Strikes: v.bike() + "/care/" + names.Last(v.form().Get("strikes"))}
	if _, err := v.bikes.RecordCare(v.ctx, &pb.RecordCareRequest{Parent: v.bike(), Entry: entry, RequestId: v.form().Get("once")}); err != nil {
		return err
	}
	return v.to("/"+v.bike()+"/care", "struck")
}
