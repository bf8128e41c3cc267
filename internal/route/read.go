package route

import (
	"bufio"
	"encoding/xml"
	"errors"
	"io"
)

// Read reads a GPX file and measures its line. Errors are of type [*Error],
// but for those of r itself. The file is read as a stream, at most MaxBytes
// of it.
func Read(r io.Reader) (*Route, error) {
	in := bufio.NewReader(plain(&sizeLimit{r: r, left: MaxBytes}))
	head, err := in.Peek(512)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if bad := notGPX(head); bad != nil {
		return nil, bad
	}
	limit := &tokenLimit{r: in}
	p := &parser{dec: newDecoder(limit), limit: limit}
	if err := p.file(); err != nil {
		return nil, err
	}
	chosen, notes, err := p.doc.choose()
	if err != nil {
		return nil, err
	}
	name := chosen.name
	if name == "" {
		name = p.doc.name
	}
	out, err := New(name, chosen.coords, p.doc.waypoints)
	if err != nil {
		return nil, err
	}
	out.Notes = append(notes, out.Notes...)
	return out, nil
}

// file reads the whole file into p.doc.
func (p *parser) file() error {
	for rooted := false; ; {
		tok, err := p.next()
		if errors.Is(err, io.EOF) && rooted {
			return nil
		}
		if errors.Is(err, io.EOF) {
			return looksLike("XML without any element")
		}
		if err != nil {
			return err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			if rooted {
				return p.at("there is more after the end of the gpx element", "keep one route per file")
			}
			if t.Name.Local != "gpx" {
				return notRoot(t.Name.Local)
			}
			p.space, rooted = t.Name.Space, true
			if err := p.children(p.top); err != nil {
				return err
			}
		case xml.CharData:
			if rooted && len(oneLine(string(t), 1)) > 0 {
				return p.at("there is text after the end of the gpx element", exportAgain)
			}
		}
	}
}

// top reads an element directly under gpx.
func (p *parser) top(t xml.StartElement) error {
	switch t.Name.Local {
	case "trk":
		return p.path(&p.doc.tracks, "trkseg")
	case "rte":
		return p.path(&p.doc.routes, "")
	case "wpt":
		return p.waypoint(t)
	case "name": // GPX 1.0
		return p.words(&p.doc.name, MaxNameRunes)
	case "metadata": // GPX 1.1
		return p.children(func(t xml.StartElement) error {
			if t.Name.Local == "name" {
				return p.words(&p.doc.name, MaxNameRunes)
			}
			return p.skip()
		})
	}
	return p.skip()
}

// path reads a track, whose points stand in segments, or a route.
func (p *parser) path(into *[]path, segment string) error {
	out := path{}
	clock := clock{}
	point := func(t xml.StartElement) error {
		if t.Name.Local != "trkpt" && t.Name.Local != "rtept" {
			return p.skip()
		}
		return p.point(t, &out, &clock)
	}
	err := p.children(func(t xml.StartElement) error {
		switch t.Name.Local {
		case "name":
			return p.words(&out.name, MaxNameRunes)
		case segment:
			from := len(out.coords)
			err := p.children(point)
			if from > 0 && from < len(out.coords) {
				out.coords[from].NewSegment = true
			}
			return err
		case "rtept":
			return point(t)
		}
		return p.skip()
	})
	out.backs = clock.backs
	*into = append(*into, out)
	return err
}
