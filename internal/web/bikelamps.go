package web

import (
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	pb "gritward/proto/gritward/v1"
)

// maxLamps is how many lamps a declaration takes.
const maxLamps = 12

var lampField = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^facts\.lights\[(\d{1,2})\]\.(.*)$`) })

// lampsIn are the places of the lamps that a form has, in their order.
func lampsIn(values url.Values) []int {
	var found []int
	for name := range values {
		if part := lampField().FindStringSubmatch(name); part != nil {
			if at, err := strconv.Atoi(part[1]); err == nil && !slices.Contains(found, at) {
				found = append(found, at)
			}
		}
	}
	slices.Sort(found)
	return found
}

// renumbered has the lamps of a form stand without gaps, without the one at a place that is to go.
func renumbered(values url.Values, gone int) url.Values {
	places := slices.DeleteFunc(lampsIn(values), func(at int) bool { return at == gone })
	made := url.Values{}
	for name, value := range values {
		if part := lampField().FindStringSubmatch(name); part != nil {
			at, _ := strconv.Atoi(part[1])
			to := slices.Index(places, at)
			if to < 0 {
				continue
			}
			name = fmt.Sprintf("facts.lights[%d].%s", to, part[2])
		}
		made[name] = value
	}
	return made
}

// moreLamps adds a lamp of an end to a form.
func moreLamps(values url.Values, end pb.End) {
	if at := len(lampsIn(values)); at < maxLamps {
		lamp := &pb.Light{End: end, Mode: pb.Light_STEADY, Power: pb.Light_RECHARGEABLE, Mount: pb.Light_BIKE}
		for name, value := range filledFrom(lamp, fmt.Sprintf("facts.lights[%d]", at)) {
			values[name] = value
		}
	}
}

func (f Form) lights() *section {
	s := &section{
		ID: "lights", Title: "Lamps", Checks: []pb.Check{pb.Check_LIGHTS},
		Ticks: []Field{f.Check("look.lights", "Charged or fitted with new cells today, all of them.", "")},
	}
	count := map[string]int{}
	for _, at := range lampsIn(f.Values) {
		lamp := f.lamp(at)
		count[lamp.Title]++
		if n := count[lamp.Title]; n > 1 {
			lamp.Title = fmt.Sprintf("%s %d", lamp.Title, n)
		}
		s.Lamps = append(s.Lamps, lamp)
	}
	return s
}

func (f Form) lamp(at int) lampForm {
	name := func(field string) string { return fmt.Sprintf("facts.lights[%d].%s", at, field) }
	number := func(field, label, unit, least, most string) Field {
		return f.Number(name(field), label, "", unit, least, most, "any")
	}
	end := f.field("hidden", name("end"), "End", "")
	title := "Lamp"
	switch strings.TrimSpace(end.Value) {
	case "FRONT":
		title = "Front lamp"
	case "REAR":
		title = "Rear lamp"
	}
	return lampForm{
		Title: title, At: at, End: end,
		Rows: []fieldRow{
			{number("runtime_min", "Lasts, fully charged", "min", "0", "60000"), f.Select(name("mode"), "Mode used", "", "", "not said", "STEADY", "steady", "FLASHING", "flashing")},
			{f.Select(name("power"), "Fed by", "", "", "not said", "RECHARGEABLE", "a battery", "CELLS", "cells", "DYNAMO", "a dynamo"), number("lumens", "Brightness", "lm", "0", "10000")},
		},
		More: []fieldRow{
			{f.day(name("charged_on"), "Charged on"), f.Select(name("mount"), "Sits on", "", "", "not said", "BIKE", "the bike", "RIDER", "the rider")},
			{number("flashes_per_min", "Flashes a minute", "", "1", "1000"), number("candela", "Intensity", "cd", "0", "200000")},
			{number("height_mm", "Height above the road", "mm", "0", "2500"), f.Text(name("standard"), "Standard marked on it", "", 40)},
			one(f.Text(name("label"), "What you call it", "", 30)),
		},
	}
}
