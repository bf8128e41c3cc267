package placement_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// at makes places from words like "ann:clear:5": rider, standing, experience, and if need be party and guardian.
func at(words ...string) []placement.Place {
	var list []placement.Place
	for _, w := range words {
		f := strings.Split(w, ":")
		x := placement.Place{Rider: f[0]}
		for s := placement.Clear; s <= placement.Held; s++ {
			if s.String() == f[1] {
				x.Standing = s
			}
		}
		if _, err := fmt.Sscan(f[2], &x.Experience); err != nil {
			panic(err)
		}
		if len(f) > 3 {
			x.Party = f[3]
		}
		if len(f) > 4 {
			x.Guardian = f[4]
		}
		list = append(list, x)
	}
	return list
}

func TestOrder(t *testing.T) {
	tests := []struct {
		name   string
		p      placement.OrderParams
		rows   string
		notes  []string // each must be part of a note
		silent bool     // no notes at all
	}{
		{
			name:   "experience takes turns behind the front",
			p:      placement.OrderParams{Places: at("a:clear:9", "b:clear:1", "c:clear:8", "d:advised:2", "e:clear:7", "z:clear:0"), Leader: "a", BackMarker: "z"},
			rows:   "a c/e b/d z",
			silent: true,
		},
		{
			name:  "back behind all others, odd number",
			p:     placement.OrderParams{Places: at("a:back:50", "b:clear:1", "l:clear:5", "z:clear:9", "c:back:3"), Leader: "l", BackMarker: "z"},
			rows:  "l b/a c/z",
			notes: []string{"z rides alone in the last row"},
		},
		{
			name:  "leader alone before riders of standing back",
			p:     placement.OrderParams{Places: at("l:clear:1", "a:back:1", "b:back:1", "z:clear:1"), Leader: "l", BackMarker: "z"},
			rows:  "l/a b/z",
			notes: []string{"l rides alone in the first row"},
		},
		{
			name:  "leader of standing back",
			p:     placement.OrderParams{Places: at("l:back:1", "a:clear:1", "b:clear:0", "z:clear:1"), Leader: "l", BackMarker: "z"},
			rows:  "l a/b z",
			notes: []string{"l leads, but is of standing back"},
		},
		{
			name:  "everybody of standing back",
			p:     placement.OrderParams{Places: at("l:back:1", "a:back:1", "z:back:1"), Leader: "l", BackMarker: "z"},
			rows:  "l/a z",
			notes: []string{"Everybody here is of standing back", "l rides alone in the first row"},
		},
		{
			name:   "leader and back marker only",
			p:      placement.OrderParams{Places: at("l:clear:1", "z:advised:1"), Leader: "l", BackMarker: "z"},
			rows:   "l z",
			silent: true,
		},
		{
			name:   "party next to its leader",
			p:      placement.OrderParams{Places: at("l:clear:9:p", "x:clear:0:p", "a:clear:8", "z:clear:1"), Leader: "l", BackMarker: "z"},
			rows:   "l x/a z",
			silent: true,
		},
		{
			name:   "party over the boundary of standings",
			p:      placement.OrderParams{Places: at("l:clear:9", "a:clear:8:p", "b:back:0:p", "c:clear:1", "d:back:5", "z:clear:1"), Leader: "l", BackMarker: "z"},
			rows:   "l c/a b/d z",
			silent: true,
		},
		{
			name: "party parted by standing",
			p: placement.OrderParams{Places: at("l:clear:9:p", "a:clear:8", "b:clear:7", "c:clear:1", "d:back:5:p", "z:clear:1"),
				Leader: "l", BackMarker: "z"},
			rows:  "l a/b c/d z",
			notes: []string{"d, l go together but cannot"},
		},
		{
			name:  "pair abreast",
			p:     placement.OrderParams{Places: at("l:clear:9", "a:clear:8:p", "b:clear:8:p", "c:clear:1", "z:clear:1"), Leader: "l", BackMarker: "z"},
			rows:  "l c/a b/z",
			notes: []string{"z rides alone in the last row"},
		},
		{
			name:  "single file",
			p:     placement.OrderParams{Places: at("l:clear:9", "a:back:8", "b:clear:8", "z:clear:1"), Leader: "l", BackMarker: "z", SingleFile: true},
			rows:  "l/b/a/z",
			notes: []string{"Single file"},
		},
		{
			name:  "no roles",
			p:     placement.OrderParams{Places: at("a:back:8", "b:clear:8")},
			rows:  "b/a",
			notes: []string{"no leader", "no back marker", "b rides alone in the first row"},
		},
		{
			name:  "roles of riders elsewhere",
			p:     placement.OrderParams{Places: at("a:clear:8"), Leader: "x", BackMarker: "y"},
			rows:  "a",
			notes: []string{"leader x does not ride", "back marker y does not ride", "a rides alone"},
		},
		{
			name:  "one rider in both roles",
			p:     placement.OrderParams{Places: at("a:clear:8", "b:clear:1"), Leader: "a", BackMarker: "a"},
			rows:  "a b",
			notes: []string{"both leader and back marker"},
		},
		{
			name:  "held",
			p:     placement.OrderParams{Places: at("a:clear:8", "b:held:1", "z:clear:0"), Leader: "a", BackMarker: "z"},
			rows:  "a/b z",
			notes: []string{"b is held and does not start"},
		},
		{
			name:  "junior beside the guardian, not beside the leader",
			p:     placement.OrderParams{Places: at("l:clear:9", "j:clear:8::g", "g:clear:7", "a:clear:1", "z:clear:1"), Leader: "l", BackMarker: "z"},
			rows:  "l a/j g/z",
			notes: []string{"z rides alone in the last row"},
		},
		{
			name:  "guardian marks the back",
			p:     placement.OrderParams{Places: at("l:clear:9", "j:clear:0::z", "a:clear:3", "b:back:2", "z:clear:5"), Leader: "l", BackMarker: "z"},
			rows:  "l a/b j/z",
			notes: []string{"j, a junior, rides with the guardian z, who marks the back"},
		},
		{
			name:  "nobody else for the first row",
			p:     placement.OrderParams{Places: at("l:clear:9", "j:clear:0::z", "z:clear:5"), Leader: "l", BackMarker: "z"},
			rows:  "l/j z",
			notes: []string{"l rides alone in the first row"},
		},
		{
			name:  "guardian sent to the back",
			p:     placement.OrderParams{Places: at("l:clear:9", "j:clear:0::g", "g:back:3", "a:clear:1", "z:clear:5"), Leader: "l", BackMarker: "z"},
			rows:  "l a/j g/z",
			notes: []string{"j, a junior, rides at the back with the guardian g."},
		},
		{
			name:  "junior sent to the back",
			p:     placement.OrderParams{Places: at("l:clear:9", "j:back:0::g", "g:clear:3", "a:clear:1", "z:clear:5"), Leader: "l", BackMarker: "z"},
			rows:  "l a/j g/z",
			notes: []string{"g rides at the back with the junior whose guardian g is."},
		},
		{
			name:  "junior of a leader sent to the back",
			p:     placement.OrderParams{Places: at("l:clear:9", "j:back:0::l", "a:clear:3", "b:clear:1", "z:clear:5"), Leader: "l", BackMarker: "z"},
			rows:  "l j/a b/z",
			notes: []string{"j is of standing back, but rides with the guardian l, who leads"},
		},
		{
			name:  "directly behind one another",
			p:     placement.OrderParams{Places: at("l:clear:9", "x:clear:8:p", "y:clear:7:p", "g:clear:3", "j:clear:0::g", "h:back:1", "z:clear:5"), Leader: "l", BackMarker: "z"},
			rows:  "l x/y j/h g/z",
			notes: []string{"z rides alone in the last row"},
		},
		{name: "nobody", rows: "", notes: []string{"Nobody rides"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rows, notes := placement.Order(tt.p)
			var words []string
			for _, r := range rows {
				words = append(words, strings.TrimSpace(r.Left+" "+r.Right))
			}
			if got := strings.Join(words, "/"); got != tt.rows {
				t.Errorf("rows %q, want %q", got, tt.rows)
			}
			for _, want := range tt.notes {
				if !slices.ContainsFunc(notes, func(n string) bool { return strings.Contains(n, want) }) {
					t.Errorf("no note %q in %q", want, notes)
				}
			}
			if tt.silent && len(notes) > 0 {
				t.Errorf("notes %q, want none", notes)
			}
		})
	}
}

func TestOrderKeepsItsRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := placement.OrderParams{SingleFile: rapid.Bool().Draw(t, "single")}
		for i := range rapid.IntRange(1, 12).Draw(t, "n") {
			p.Places = append(p.Places, placement.Place{
				Rider:      fmt.Sprintf("r%02d", i),
				Standing:   placement.Standing(rapid.IntRange(0, 2).Draw(t, "standing")),
				Experience: rapid.IntRange(0, 5).Draw(t, "experience"),
				Party:      rapid.SampledFrom([]string{"", "", "", "p", "q"}).Draw(t, "party"),
			})
		}
		p.Leader = p.Places[0].Rider
		if len(p.Places) > 1 {
			p.BackMarker = p.Places[1].Rider
		}
		rows, notes := placement.Order(p)
		checkRows(t, p, rows)

		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		rng.Shuffle(len(p.Places), func(i, j int) { p.Places[i], p.Places[j] = p.Places[j], p.Places[i] })
		rows2, notes2 := placement.Order(p)
		if diff := cmp.Diff(rows, rows2) + cmp.Diff(notes, notes2); diff != "" {
			t.Fatalf("depends on the order of places: %s", diff)
		}
	})
}

// Whoever rides with whom in whatever standing and role: a junior is never a row away from the guardian, nor in the first row
// but with a guardian who leads or for want of anybody else.
func TestOrderKeepsJuniorsWithGuardians(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := placement.OrderParams{SingleFile: rapid.Bool().Draw(t, "single"), Leader: "r00"}
		guardianOf := map[string]string{}
		adults := rapid.IntRange(2, 8).Draw(t, "adults")
		standing := func() placement.Standing { return placement.Standing(rapid.IntRange(0, 2).Draw(t, "standing")) }
		party := rapid.SampledFrom([]string{"", "", "p", "q"})
		for i := range adults {
			p.Places = append(p.Places, placement.Place{Rider: fmt.Sprintf("r%02d", i), Standing: standing(),
				Experience: rapid.IntRange(0, 5).Draw(t, "experience"), Party: party.Draw(t, "party")})
		}
		if rapid.Bool().Draw(t, "marked") {
			p.BackMarker = "r01"
		}
		for i := range rapid.IntRange(1, 3).Draw(t, "juniors") {
			guardian := p.Places[rapid.IntRange(0, adults-1).Draw(t, "guardian")].Rider
			j := placement.Place{Rider: fmt.Sprintf("j%d", i), Standing: standing(), Party: party.Draw(t, "party"),
				Guardian: guardian, Experience: rapid.IntRange(0, 5).Draw(t, "experience")}
			own := 0
			for _, other := range guardianOf {
				if other == guardian {
					own++
				}
			}
			if own < 2 { // no row has room for more beside one guardian
				guardianOf[j.Rider] = guardian
				p.Places = append(p.Places, j)
			}
		}
		rows, _ := placement.Order(p)
		row, seats := map[string]int{}, 0
		for i, r := range rows {
			for _, id := range []string{r.Left, r.Right} {
				if id != "" {
					row[id] = i
					seats++
				}
			}
		}
		if seats != len(p.Places) || len(row) != seats {
			t.Fatalf("%d seats for %d riders: %v", seats, len(p.Places), rows)
		}
		if row[p.Leader] != 0 || p.BackMarker != "" && row[p.BackMarker] != len(rows)-1 {
			t.Fatalf("leader or back marker elsewhere: %v", rows)
		}
		for junior, guardian := range guardianOf {
			apart := row[junior] - row[guardian]
			near := 1
			if p.SingleFile {
				near = 2 // two juniors of one leader or back marker
			}
			if max(apart, -apart) > near {
				t.Fatalf("%s is parted from %s: %v", junior, guardian, rows)
			}
			if guardian != p.Leader && (row[junior] == 0 || row[guardian] == 0) && len(rows) > 1 {
				t.Fatalf("%s with %s in the first row: %v", junior, guardian, rows)
			}
		}
	})
}

func checkRows(t *rapid.T, p placement.OrderParams, rows []placement.Row) {
	standing := map[string]placement.Standing{}
	for _, x := range p.Places {
		standing[x.Rider] = x.Standing
	}
	var line []string
	for i, r := range rows {
		if r.Left == "" || p.SingleFile && r.Right != "" {
			t.Fatalf("row %d: %+v", i, r)
		}
		if r.Right == "" && !p.SingleFile && i != 0 && i != len(rows)-1 {
			t.Fatalf("row %d has an empty seat: %+v", i, rows)
		}
		line = append(line, r.Left)
		if r.Right != "" {
			line = append(line, r.Right)
		}
	}
	if sorted := slices.Compact(slices.Sorted(slices.Values(line))); len(line) != len(p.Places) || len(sorted) != len(line) {
		t.Fatalf("%d seats for %d riders: %v", len(line), len(p.Places), rows)
	}
	if line[0] != p.Leader || p.BackMarker != "" && line[len(line)-1] != p.BackMarker {
		t.Fatalf("leader %s, back marker %s: %v", p.Leader, p.BackMarker, rows)
	}
	backSeen := false
	for _, id := range line {
		if id == p.Leader || id == p.BackMarker {
			continue
		}
		if backSeen && standing[id] < placement.Back {
			t.Fatalf("%s rides behind a rider of standing back: %v", id, rows)
		}
		backSeen = backSeen || standing[id] == placement.Back
	}
	if second := rows[0].Right; second != "" && standing[second] == placement.Back {
		t.Fatalf("%s in the first row: %v", second, rows)
	}
}
