package render

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"codeberg.org/go-pdf/fpdf"
)

// Sheets tells what PDF drew.
type Sheets struct {
	// Groups that have a sheet, by id, in order.
	Groups []string `json:"groups"`
	// Pages in all: as many as groups, unless a group has more to tell than fits one.
	Pages int `json:"pages"`
	// Unprinted tells which letters the typeface does not have; empty: all are printed.
	Unprinted string `json:"unprinted,omitempty"`
}

// PDF writes the sheets to print: one A4 page for each group that runs, black on white, in the largest type in which it
// fits, laid out in four panels of A6 between the folds. With groups, given by their ids, only theirs. A group with more to
// tell than fits in the least type (7.5 points) goes on overleaf, and its first page says so: nothing is left out.
//
// Letters of scripts other than Latin, Greek, Cyrillic, Armenian and Georgian are not printed: a mark stands in their place,
// the sheet says for which, and a rider's id stands behind the name. The same roster gives the same bytes. It is an error
// when no group runs, or none of an id asked for; nothing is written then.
func PDF(w io.Writer, r *pb.Roster, groups ...string) (Sheets, error) {
	s := newSheet(r)
	running, err := s.asked(groups)
	if err != nil {
		return Sheets{}, err
	}
	letters, err := newLetters()
	if err != nil {
		return Sheets{}, err
	}
	p := &paper{sheet: s, pdf: newDocument(s), letters: letters, code: modules(s.GetPageUrl())}
	var drawn Sheets
	for _, g := range running {
		p.group(g)
		drawn.Groups = append(drawn.Groups, g.GetGroup())
	}
	drawn.Pages, drawn.Unprinted = p.pdf.PageCount(), letters.words()
	var b bytes.Buffer
	if err := p.pdf.Output(&b); err != nil {
		return Sheets{}, err
	}
	_, err = w.Write(b.Bytes())
	return drawn, err
}

// asked are the groups that run and are asked for: all, where none is named.
func (s *sheet) asked(ids []string) ([]*pb.RosterGroup, error) {
	running := s.GetPlacement().GetGroups()
	if len(running) == 0 {
		return nil, errors.New("no group runs by this roster, so there is no sheet to print")
	}
	if len(ids) == 0 {
		return running, nil
	}
	var asked []*pb.RosterGroup
	var known []string
	for _, g := range running {
		known = append(known, g.GetGroup())
	}
	for _, id := range ids {
		i := slices.Index(known, id)
		if i < 0 {
			return nil, fmt.Errorf("no group %q runs; those that run are %s", id, strings.Join(known, ", "))
		}
		asked = append(asked, running[i])
	}
	return asked, nil
}

func newDocument(s *sheet) *fpdf.Fpdf {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	// Nothing in the file may come from the clock or from the order of a map.
	made := time.Unix(0, 0).UTC()
	if at := s.GetPublishedAt(); at.IsValid() {
		made = at.AsTime()
	}
	pdf.SetCreationDate(made)
	pdf.SetModificationDate(made)
	pdf.SetCatalogSort(true)
	pdf.SetLang("en-GB")
	pdf.SetTitle(s.running(), true)
	pdf.AddUTF8FontFromBytes("sheet", "", regularType)
	pdf.AddUTF8FontFromBytes("sheet", "B", boldType)
	return pdf
}

// paper draws the sheets of a roster.
type paper struct {
	*sheet
	pdf     *fpdf.Fpdf
	letters *letters
	code    [][]bool // of the roster's page; nil: none
}

// group draws the sheet of a group: on as few pages as it can be, in the largest type.
func (p *paper) group(g *pb.RosterGroup) {
	best := p.fitted(g, true)
	if pages(best) > 1 {
		if less := p.fitted(g, false); pages(less) < pages(best) {
			best = less // whom to ring is said at the start, and the leader's number heads the sheet
		}
	}
	for i, pieces := range best {
		if i%panelsOnPage == 0 {
			p.pdf.AddPage()
			p.folds()
		}
		x := panelMargin + pageWidth/2*float64(i%2)
		y := panelMargin + pageHeight/2*float64(i%panelsOnPage/2)
		p.panelHead(g, x, y, i+1, len(best))
		y += runningHeight
		for _, one := range pieces {
			one.draw(x, y)
			y += one.height
		}
	}
}

// fitted lays a group's sheet out on as few pages as it can be, in the largest type; with what to do at an accident, or without.
func (p *paper) fitted(g *pb.RosterGroup, accident bool) (best [][]piece) {
	for _, fit := range fittings {
		t := &setter{pdf: p.pdf, letters: p.letters, width: panelWidth, size: fit.size}
		panels := flow(p.parts(t, g, accident), panelHeight, fit.whole)
		if best == nil || pages(panels) < pages(best) {
			best = panels
		}
		if pages(best) == 1 {
			break
		}
	}
	return best
}

func pages(panels [][]piece) int { return (len(panels) + panelsOnPage - 1) / panelsOnPage }

// folds mark where the page is folded, at its edges and in its middle.
func (p *paper) folds() {
	const long = 4.0
	p.pdf.SetLineWidth(0.15)
	for _, at := range []float64{0, pageWidth/2 - long/2, pageWidth - long} {
		p.pdf.Line(at, pageHeight/2, at+long, pageHeight/2)
	}
	for _, at := range []float64{0, pageHeight/2 - long/2, pageHeight - long} {
		p.pdf.Line(pageWidth/2, at, pageWidth/2, at+long)
	}
}

// panelHead tells on each panel whose sheet it is, and whether there is more overleaf. The sheet's own head has all of it
// whole.
func (p *paper) panelHead(g *pb.RosterGroup, x, y float64, n, of int) {
	const size = 7.5
	p.pdf.SetFont("sheet", "", size)
	count := strconv.Itoa(n) + "/" + strconv.Itoa(of)
	if of > panelsOnPage && n%panelsOnPage == 0 && n < of {
		count = "goes on overleaf " + count
	}
	words := phrase.FirstOf(p.watch.Date(p.start()), "no date") + " · " + p.issueWord()
	if p.calledOff() != "" {
		words = "CALLED OFF · " + words
	}
	room := panelWidth - p.pdf.GetStringWidth(words+count) - 6
	title := p.letters.print(groupTitle(g))
	if p.pdf.GetStringWidth(title) > room {
		t := setter{pdf: p.pdf}
		title = t.head(title, room) + "…"
	}
	base := y + size*point*0.8
	p.pdf.Text(x, base, title+" · "+words)
	p.pdf.Text(x+panelWidth-p.pdf.GetStringWidth(count), base, count)
}

// issueWord is the number of the issue in short.
func (s *sheet) issueWord() string {
	if s.draft() {
		return "draft"
	}
	return "issue " + strconv.Itoa(int(s.GetNumber()))
}
