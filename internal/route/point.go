package route

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// clock counts recorded times that run backwards.
type clock struct {
	last  time.Time
	backs int
}

// read takes one recorded time; one that cannot be read is passed over, as
// times are not used.
func (c *clock) read(text []byte) {
	at, err := time.Parse(time.RFC3339, string(bytes.TrimSpace(text)))
	if err != nil {
		return
	}
	if at.Before(c.last) {
		c.backs++
	}
	c.last = at
}

// point reads one point of a track or route.
func (p *parser) point(t xml.StartElement, into *path, clock *clock) error {
	if p.doc.points++; p.doc.points > MaxPoints {
		return p.at("the file has more than 250000 points", "thin out its points or split it into rides")
	}
	lat, lon, err := p.place(t)
	if err != nil {
		return err
	}
	c := Coord{LatDeg: lat, LonDeg: lon, ElevM: math.NaN()}
	err = p.children(func(t xml.StartElement) error {
		if t.Name.Local != "ele" && t.Name.Local != "time" {
			return p.skip()
		}
		text, err := p.content()
		if t.Name.Local == "ele" {
			c.ElevM = elevation(text)
		} else {
			clock.read(text)
		}
		return err
	})
	into.coords = append(into.coords, c)
	return err
}

// elevation reads metres; infinite if it is not usable, NaN if it is left empty.
func elevation(text []byte) float64 {
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return math.NaN()
	}
	v, ok := decimal(string(text))
	if !ok {
		return math.Inf(1)
	}
	return v
}

// waypoint reads one waypoint.
func (p *parser) waypoint(t xml.StartElement) error {
	lat, lon, err := p.place(t)
	if err != nil {
		return err
	}
	w := Waypoint{LatDeg: lat, LonDeg: lon}
	err = p.children(func(t xml.StartElement) error {
		switch t.Name.Local {
		case "name":
			return p.words(&w.Name, MaxNameRunes)
		case "desc":
			return p.words(&w.Desc, MaxDescRunes)
		case "type":
			return p.words(&w.Type, MaxNameRunes)
		}
		return p.skip()
	})
	if len(p.doc.waypoints) < MaxWaypoints {
		p.doc.waypoints = append(p.doc.waypoints, w)
	} else {
		p.doc.moreWaypoints++
	}
	return err
}

// place reads the attributes lat and lon of the element just begun.
func (p *parser) place(t xml.StartElement) (lat, lon float64, err error) {
	if lat, err = p.degrees(t, "lat", 90); err != nil {
		return 0, 0, err
	}
	lon, err = p.degrees(t, "lon", 180)
	return lat, lon, err
}

// degrees reads one attribute. A point without a sound place makes the whole
// file useless: leaving it out would falsify the distance, and so the times.
func (p *parser) degrees(t xml.StartElement, name string, limit float64) (float64, error) {
	const mend = "correct or remove the point"
	for _, a := range t.Attr {
		if a.Name.Local != name || a.Name.Space != "" {
			continue
		}
		v, ok := decimal(a.Value)
		if !ok {
			return 0, p.at(fmt.Sprintf("the %s %s of a %s is not a decimal number", name, quote(a.Value), t.Name.Local), mend)
		}
		if !(math.Abs(v) <= limit) {
			return 0, p.at(fmt.Sprintf("the %s %s of a %s is outside -%g to %g degrees", name, quote(a.Value), t.Name.Local, limit, limit), mend)
		}
		return v, nil
	}
	return 0, p.at(fmt.Sprintf("a %s has no %s", t.Name.Local, name), mend)
}

// decimal reads a finite decimal number; no hexadecimal, NaN or infinity.
func decimal(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}
