//go:build readers

package render_test

import (
	"bytes"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"golang.org/x/text/unicode/norm"
)

// The readers are those of Poppler (poppler-utils): they share nothing with what writes the file.

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	command := exec.Command(name, args...)
	var said bytes.Buffer
	command.Stderr = &said
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, said.String())
	}
	return string(out)
}

func writePDF(t *testing.T, r *pb.Roster) string {
	t.Helper()
	data, _ := pdf(t, r)
	path := filepath.Join(t.TempDir(), "sheets.pdf")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// squeezed is text without its white space, in which lines are broken, with one kind of minus, and in lower case: sentences
// begin with a capital.
func squeezed(s string) string {
	s = strings.ReplaceAll(norm.NFC.String(s), "−", "-")
	return strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(s, "\u00a0", " ")), ""))
}

// mustStand is all that must stand on the sheet of a group, as the roster has it.
func mustStand(r *pb.Roster, g *pb.RosterGroup) []string {
	out := []string{r.ClubTitle, r.Ride.Title, g.Title, r.Ride.MeetingPoint, r.LeaderName, r.Ride.LeaderPhone, "Issue " + strconv.Itoa(int(r.Number)),
		"Sunset", "Dark from", "Leaves", "Home about", "12 December 2015"}
	for _, stop := range r.Ride.Stops {
		out = append(out, stop.Title)
	}
	for _, note := range append(r.Ride.Hazards, r.Ride.WaysOut...) {
		out = append(out, strings.TrimRight(strings.TrimSpace(note.What), "."))
	}
	for _, row := range g.Rows {
		for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
			if rider == nil {
				continue
			}
			out = append(out, rider.DisplayName+" signed on home")
			for _, f := range rider.Findings {
				out = append(out, f.Needed, f.Remedy)
			}
		}
	}
	for _, s := range r.Brief.Sections {
		switch s.Id {
		case "conditions", "hazards", "cautions":
			out = append(out, s.Lines...)
		case "trouble": // as far as the leader, who is told; on a page that has room for it
			if len(g.Rows) > 5 {
				continue
			}
			out = append(append(out, s.Title, "Ring 112, or your local number", "Tell the ride leader: "+r.LeaderName), s.Lines[:5]...)
		}
	}
	for _, spoken := range r.Brief.Spoken {
		if spoken.Group == g.Group {
			out = append(out, spoken.Sentences...)
		}
	}
	return append(out, g.Notes...)
}

// TestPDFReadBack reads the sheets' text back: all that must stand is there, whole.
func TestPDFReadBack(t *testing.T) {
	rosters := overfull(t)
	rosters["twelve"], rosters["winter run"] = twelve(t, longNames()), issue(t, "winter-run")
	rosters["one rider"] = twelve(t, []string{"Ann Aske"})
	for name, r := range rosters {
		text := run(t, "pdftotext", "-raw", writePDF(t, r), "-")
		for _, g := range r.Placement.Groups {
			for _, want := range mustStand(r, g) {
				if !strings.Contains(squeezed(text), squeezed(render.Clean(want))) {
					t.Errorf("%s: %q does not stand on the sheet", name, want)
				}
			}
		}
		if overleaf := strings.Contains(text, "goes on overleaf"); overleaf != (strings.Contains(name, "crowded") || strings.Contains(name, "wide")) {
			t.Errorf("%s: said to go on overleaf: %v", name, overleaf)
		}
	}
}

// TestPDFNames reads names of a line's length back exactly, letter by letter.
func TestPDFNames(t *testing.T) {
	names := []string{"Ștefan Ørsted", "Ξένια Ώχρα", "Ґалаґан Їжак", "Zoë Ārents", "Łukasz Żółw", "Nguyễn Thị Ánh", "Երևան", "თამარ", "D'Arcy O’Neil"}
	lines := strings.Split(run(t, "pdftotext", "-raw", writePDF(t, twelve(t, names)), "-"), "\n")
	for _, name := range names {
		found := false
		for _, line := range lines {
			_, seat, _ := strings.Cut(line, " ") // beside the number of its row
			found = found || line == name || seat == name
		}
		if !found {
			t.Errorf("%q is not read back from\n%s", name, strings.Join(lines, "\n"))
		}
	}
}

// TestPDFUnprintedIsSaid: what the typeface lacks is marked, named, and the rider's id stands there.
func TestPDFUnprintedIsSaid(t *testing.T) {
	text := run(t, "pdftotext", "-raw", writePDF(t, twelve(t, []string{"夜の湖", "Ben 🚲 Bole"})), "-")
	for _, want := range []string{"[…] (m0)", "Ben […] Bole (m1)", "U+591C U+306E U+6E56 U+1F6B2"} {
		if !strings.Contains(squeezed(text), squeezed(want)) {
			t.Errorf("%q is not told in\n%s", want, text)
		}
	}
}

var wordBox = regexp.MustCompile(`<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">`)

// TestPDFFolds: no word crosses a fold or the edge; folded twice, each panel is whole. Points of A4.
func TestPDFFolds(t *testing.T) {
	rosters := overfull(t)
	rosters["twelve"] = twelve(t, longNames())
	for _, name := range rostertest.Names() {
		rosters[name] = issue(t, name)
	}
	const wide, high, edge = 210 * 72 / 25.4, 297 * 72 / 25.4, 5 * 72 / 25.4
	for name, r := range rosters {
		words := wordBox.FindAllStringSubmatch(run(t, "pdftotext", "-bbox", writePDF(t, r), "-"), -1)
		if len(words) < 100 {
			t.Errorf("%s: only %d words are read", name, len(words))
		}
		for _, w := range words {
			at := make([]float64, 4)
			for i := range at {
				at[i], _ = strconv.ParseFloat(w[i+1], 64)
			}
			left, top, right, bottom := at[0], at[1], at[2], at[3]
			if left < edge || top < edge || right > wide-edge || bottom > high-edge || left < wide/2 && right > wide/2-edge || top < high/2 && bottom > high/2-edge {
				t.Errorf("%s: a word stands at %v, over a fold or an edge", name, at)
				break
			}
		}
	}
}

// TestPDFTypefaces: the letters used are in the file, and few others.
func TestPDFTypefaces(t *testing.T) {
	path := writePDF(t, twelve(t, longNames()))
	fonts := strings.Split(strings.TrimSpace(run(t, "pdffonts", path)), "\n")[2:]
	if len(fonts) != 2 {
		t.Errorf("typefaces:\n%s", strings.Join(fonts, "\n"))
	}
	for _, line := range fonts {
		if !regexp.MustCompile(` yes no +yes +\d+ +\d+$`).MatchString(line) { // embedded, and with letters to read back
			t.Errorf("a typeface is not as it should be: %s", line)
		}
	}
	if info, err := os.Stat(path); err != nil || info.Size() > 200<<10 {
		t.Errorf("%v bytes, %v; a subset is small", info.Size(), err)
	}
	if info := run(t, "pdfinfo", path); !regexp.MustCompile(`Page size: +595\.\d+ x 841\.\d+ pts \(A4\)`).MatchString(info) {
		t.Errorf("not A4:\n%s", info)
	}
}

// TestPDFCode reads the code off a picture of the printed sheet.
func TestPDFCode(t *testing.T) {
	base := filepath.Join(t.TempDir(), "page")
	run(t, "pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", writePDF(t, twelve(t, longNames())), base)
	file, err := os.Open(base + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	img, err := png.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	if got := decode(t, img); got != pageURL {
		t.Errorf("the sheet's code opens %q, want %q", got, pageURL)
	}
	if text := run(t, "pdftotext", writePDF(t, issue(t, "winter-run")), "-"); strings.Contains(strings.ToLower(text), "code") {
		t.Errorf("a sheet without an address tells of a code:\n%s", text)
	}
}
