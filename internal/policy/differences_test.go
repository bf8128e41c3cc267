package policy_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/policy"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// settings are those of a small club, up to the rules.
const settings = `title: Small club
season: {from: 1 Oct, to: 31 Mar}
dark: {begins: sunset, margin: 30m}
lights: {reserve: 30m, cold: [{at: 20C, left: 1}, {at: -10C, left: 0.75}]}
poor_visibility_below: 100m
groups: {size: {min: 4, max: 12}, back_places: 3, leader: required, back_marker: optional}
declaration: {valid: 28d}
call_off: {gust_above: 70km/h, ice: likely}
rules:
`

// must reads a policy that has no error.
func must(t testing.TB, text string) *policy.Policy {
	t.Helper()
	p, problems := policy.Read("p.yaml", []byte(text))
	if p == nil {
		t.Fatalf("%s\n%s", text, strictyaml.Format(problems))
	}
	return p
}

// lines writes differences for comparison, one a line.
func lines(differences []*pb.PolicyDifference) string {
	var b strings.Builder
	for _, d := range differences {
		fmt.Fprintf(&b, "%s %s|%s|%s|%s\n", d.GetKind(), d.GetRule(), d.GetPath(), d.GetBefore(), d.GetAfter())
	}
	return b.String()
}

const (
	frontRule = "  - {id: front, check: lights, when: dark, need: {front: 1, front_lumens: 400lm}, otherwise: hold}\n"
	rearRule  = "  - {id: rear, check: lights, when: [dark, poor-visibility], need: {rear: 1}, otherwise: hold, because: \"So: seen.\"}\n"
	guardRule = "  - {id: guards, check: guards, when: season, need: {front: full, rear_flap: true}, otherwise: back}\n"
	agedRule  = "  - {id: aged, check: declaration, when: always, need: {valid: 14d}, otherwise: hold}\n"
)

func TestDifferences(t *testing.T) {
	base := settings + frontRule + rearRule + guardRule + agedRule
	for name, c := range map[string]struct{ after, want string }{
		"none":           {base, ""},
		"other spelling": {strings.Replace(base, "margin: 30m", "margin: 0h 30 min", 1) + "# as ever\n", ""},
		"settings": {
			strings.NewReplacer("begins: sunset, margin: 30m", "begins: civil-dusk, margin: 1h", "Small club", "Smaller club", "gust_above: 70km/h, ", "visibility_below: 80.5m, ").Replace(base),
			"CHANGED |title|Small club|Smaller club\n" +
				"CHANGED |dark.begins|sunset|civil-dusk\n" +
				"CHANGED |dark.margin|30m|1h\n" +
				"CHANGED |call_off.visibility_below||80.5m\n" +
				"CHANGED |call_off.gust_above|70km/h|\n",
		},
		"list of groups": {
			strings.Replace(base, "at: -10C, left: 0.75", "at: -5C, left: 0.8", 1),
			"CHANGED |lights.cold|[{at: 20C, left: 1}, {at: -10C, left: 0.75}]|[{at: 20C, left: 1}, {at: -5C, left: 0.8}]\n",
		},
		"need": {
			strings.Replace(base, "{front: full, rear_flap: true}", "{front: any, rear: full}", 1),
			"CHANGED guards|need.front|full|any\nCHANGED guards|need.rear||full\nCHANGED guards|need.rear_flap|true|\n",
		},
		"another check": {
			strings.Replace(base, "check: lights, when: dark, need: {front: 1, front_lumens: 400lm}", "check: guards, when: [dark, wet], need: {front: any}", 1),
			"CHANGED front|check|lights|guards\nCHANGED front|when|dark|[dark, wet]\nCHANGED front|need.front|1|any\nCHANGED front|need.front_lumens|400lm|\n",
		},
		"added": {
			base + "  - {id: new, check: declaration, when: wet, unless: [dark, ice], need: {valid: 7d}, otherwise: advise, because: \"A \\\"why\\\": dirt, #1\"}\n",
			"ADDED new|||{id: new, check: declaration, when: wet, unless: [dark, ice], need: {valid: 7d}, otherwise: advise, because: \"A \\\"why\\\": dirt, #1\"}\n",
		},
		"removed": {
			settings + frontRule + guardRule + agedRule,
			"REMOVED rear||{id: rear, check: lights, when: [dark, poor-visibility], need: {rear: 1}, otherwise: hold, because: \"So: seen.\"}|\n",
		},
		"renamed": {
			strings.Replace(base, "id: aged", "id: old", 1),
			"ADDED old|||{id: old, check: declaration, when: always, need: {valid: 14d}, otherwise: hold}\n" +
				"REMOVED aged||{id: aged, check: declaration, when: always, need: {valid: 14d}, otherwise: hold}|\n",
		},
		"one moved": {settings + agedRule + frontRule + rearRule + guardRule, "MOVED aged||after guards|first\n"},
		"moved and changed": {
			settings + rearRule + guardRule + agedRule + strings.Replace(frontRule, "hold", "advise", 1),
			"MOVED front||first|after aged\nCHANGED front|otherwise|hold|advise\n",
		},
		"the order alone does not move": {
			settings + strings.Replace(guardRule, "id: guards", "id: first-of-all", 1) + frontRule + guardRule + agedRule,
			"ADDED first-of-all|||{id: first-of-all, check: guards, when: season, need: {front: full, rear_flap: true}, otherwise: back}\n" +
				"REMOVED rear||{id: rear, check: lights, when: [dark, poor-visibility], need: {rear: 1}, otherwise: hold, because: \"So: seen.\"}|\n",
		},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, lines(policy.Differences(must(t, base), must(t, c.after)))); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

// aRules draws up to eight rules out of eight, in any order, each in one of three states.
func aRules(t *rapid.T, label string) []string {
	ids := rapid.Permutation([]string{"a", "b", "c", "d", "e", "f", "g", "h"}).Draw(t, label+" order")
	ids = ids[:rapid.IntRange(1, len(ids)).Draw(t, label+" number")]
	var rules []string
	for _, id := range ids {
		state := rapid.SampledFrom([]string{
			"check: lights, when: dark, need: {rear: 1}, otherwise: hold",
			"check: lights, when: [dark, wet], need: {rear: 2, rear_steady: true}, otherwise: hold, because: Seen.",
			"check: guards, when: season, need: {rear: full, clearance: 4.5mm}, otherwise: back",
		}).Draw(t, label+" "+id)
		rules = append(rules, fmt.Sprintf("{id: %s, %s}", id, state))
	}
	return rules
}

func fileOf(title string, rules []string) string {
	return strings.Replace(settings, "Small club", title, 1) + "  - " + strings.Join(rules, "\n  - ") + "\n"
}

// TestDifferencesApply: what is told turns the one policy into the other, tells nothing of a policy and itself, and
// moves as few rules as can be, counted by trying all sets.
func TestDifferencesApply(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		from, to := aRules(rt, "from"), aRules(rt, "to")
		before, after := must(t, fileOf("One", from)), must(t, fileOf("Two", to))
		if same := policy.Differences(before, must(t, fileOf("One", from))); len(same) > 0 {
			rt.Fatalf("of a policy and itself:\n%s", lines(same))
		}
		differences := policy.Differences(before, after)
		if got := differences[0]; got.GetRule() != "" || got.GetPath() != "title" || got.GetBefore() != "One" || got.GetAfter() != "Two" {
			rt.Fatalf("title: %v", got)
		}
		rules, order, moved := applied(before, differences[1:])
		want, wantOrder := rulesOf(after)
		if diff := cmp.Diff(want, rules); diff != "" {
			rt.Fatalf("applied (-want +got):\n%s\n%s", diff, lines(differences))
		}
		wantOrder = slices.DeleteFunc(wantOrder, func(id string) bool { return moved[id] || !slices.Contains(order, id) })
		if diff := cmp.Diff(wantOrder, order); diff != "" {
			rt.Fatalf("order of what stays (-want +got):\n%s", diff)
		}
		if least := leastMoves(before, after); len(moved) != least {
			rt.Fatalf("%d moved, %d do", len(moved), least)
		}
	})
}

// rulesOf gives the values of each rule by id and path, and the ids in order. It reads the file's own text, not what the
// package under test makes of it.
func rulesOf(p *policy.Policy) (map[string]map[string]string, []string) {
	rules, order := map[string]map[string]string{}, []string{}
	for _, rule := range p.Message().GetRules() {
		values := map[string]string{"check": strings.ToLower(rule.GetCheck().String()), "otherwise": strings.ToLower(rule.GetOtherwise().String())}
		for _, when := range rule.GetWhen() {
			values["when"] += strings.ToLower(when.String()) + " "
		}
		if rule.GetBecause() != "" {
			values["because"] = rule.GetBecause()
		}
		if need := rule.GetLights(); need != nil {
			values["need.rear"] = fmt.Sprint(need.GetRear())
			if need.GetRearSteady() {
				values["need.rear_steady"] = "true"
			}
		} else {
			values["need.rear"], values["need.clearance"] = "full", fmt.Sprintf("%gmm", rule.GetGuards().GetClearanceMm())
		}
		rules[rule.GetId()], order = values, append(order, rule.GetId())
	}
	return rules, order
}

// applied makes the changes told to the rules of a policy: their values, the order of those that stay where they are,
// and those that are moved.
func applied(before *policy.Policy, differences []*pb.PolicyDifference) (map[string]map[string]string, []string, map[string]bool) {
	rules, order := rulesOf(before)
	moved, gone := map[string]bool{}, map[string]bool{}
	for _, d := range differences {
		switch d.GetKind() {
		case pb.PolicyDifference_ADDED:
			one, problems := policy.Read("one.yaml", []byte(fileOf("One", []string{d.GetAfter()})))
			if one == nil {
				panic(strictyaml.Format(problems))
			}
			added, _ := rulesOf(one)
			rules[d.GetRule()] = added[d.GetRule()]
		case pb.PolicyDifference_REMOVED:
			delete(rules, d.GetRule())
			gone[d.GetRule()] = true
		case pb.PolicyDifference_MOVED:
			moved[d.GetRule()] = true
		default:
			value := d.GetAfter()
			if d.GetPath() == "when" {
				value = strings.NewReplacer("[", "", "]", "", ",", "").Replace(value) + " "
			}
			if value == "" {
				delete(rules[d.GetRule()], d.GetPath())
			} else {
				rules[d.GetRule()][d.GetPath()] = value
			}
		}
	}
	order = slices.DeleteFunc(order, func(id string) bool { return gone[id] || moved[id] })
	return rules, order, moved
}

// leastMoves counts, by trying all sets of rules common to both, how few must be taken out for one order to be left.
func leastMoves(before, after *policy.Policy) int {
	_, was := rulesOf(before)
	_, is := rulesOf(after)
	common := slices.DeleteFunc(slices.Clone(was), func(id string) bool { return !slices.Contains(is, id) })
	is = slices.DeleteFunc(is, func(id string) bool { return !slices.Contains(common, id) })
	least := len(common)
	for set := range 1 << len(common) {
		out := map[string]bool{}
		for i, id := range common {
			if set>>i&1 == 1 {
				out[id] = true
			}
		}
		drop := func(id string) bool { return out[id] }
		if slices.Equal(slices.DeleteFunc(slices.Clone(common), drop), slices.DeleteFunc(slices.Clone(is), drop)) {
			least = min(least, len(out))
		}
	}
	return least
}

// BenchmarkDifferences compares two policies of 10,000 rules, one in a hundred changed, the order turned round.
func BenchmarkDifferences(b *testing.B) {
	var there, back []string
	for i := range 10_000 {
		lamps := 1 + i%100/99
		there = append(there, fmt.Sprintf("{id: r%d, check: lights, when: dark, need: {rear: 1}, otherwise: hold}", i))
		back = append(back, fmt.Sprintf("{id: r%d, check: lights, when: dark, need: {rear: %d}, otherwise: hold}", 9_999-i, lamps))
	}
	before, after := must(b, fileOf("One", there)), must(b, fileOf("One", back))
	for b.Loop() {
		policy.Differences(before, after)
	}
}
