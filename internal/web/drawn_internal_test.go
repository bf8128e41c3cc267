package web

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	pb "gritward/proto/gritward/v1"
)

func inBytes(s string) int { return len(s) }

// TestDrawnOnce: the same is drawn once, and whatever differs in anything that it is drawn from is drawn by itself.
func TestDrawnOnce(t *testing.T) {
	t.Parallel()
	var d drawings
	times := 0
	draw := func(from ...any) string {
		made, err := drawn(&d, func() (string, error) { times++; return fmt.Sprint(times), nil }, inBytes, from...)
		if err != nil {
			t.Fatal(err)
		}
		return made
	}
	different := [][]any{
		{}, {""}, {"", ""}, {"a"}, {"a", ""}, {"", "a"}, {"ab"}, {"a", "b"}, {&pb.Ride{}, "a"}, {&pb.Ride{Title: "a"}}, {&pb.Ride{Title: "b"}},
		{&pb.Ride{Title: "a"}, "a"}, {"light", &pb.RidePlan{PolicyNumber: 1}}, {"group", &pb.RidePlan{PolicyNumber: 1}},
	}
	first := map[string]int{}
	for i, from := range different {
		made := draw(from...)
		if other, there := first[made]; there {
			t.Errorf("%v is taken for %v", from, different[other])
		}
		first[made] = i
		if again := draw(from...); again != made {
			t.Errorf("%v is drawn twice", from)
		}
	}
	if _, err := drawn(&d, func() (string, error) { return "", nil }, inBytes, "a number", 1); err == nil {
		t.Error("what is drawn from a number is kept without it")
	}
	failed := errors.New("no ink")
	for range 2 {
		if _, err := drawn(&d, func() (string, error) { return "half", failed }, inBytes, "fails"); !errors.Is(err, failed) {
			t.Errorf("a drawing that failed is kept: %v", err)
		}
	}
}

// TestDrawingsAreBounded: however much is drawn, no more than mostKept bytes are kept, and the newest is.
func TestDrawingsAreBounded(t *testing.T) {
	t.Parallel()
	var d drawings
	large := strings.Repeat("x", mostKept/20)
	for i := range 100 {
		if _, err := drawn(&d, func() (string, error) { return large, nil }, inBytes, fmt.Sprint(i)); err != nil {
			t.Fatal(err)
		}
		if kept := (len(d.fresh) + len(d.aged)) * len(large); kept > mostKept {
			t.Fatalf("after %d drawings %d bytes are kept", i+1, kept)
		}
		if _, err := drawn(&d, func() (string, error) { return "", errors.New("drawn twice") }, inBytes, fmt.Sprint(i)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := drawn(&d, func() (string, error) { return strings.Repeat("x", mostKept), nil }, inBytes, "huge"); err != nil || len(d.fresh) == 0 {
		t.Errorf("one that is too large drives others out: %d kept, error %v", len(d.fresh), err)
	}
}

// TestDrawnTogether: many draw at the same time (for the race detector).
func TestDrawnTogether(t *testing.T) {
	t.Parallel()
	var d drawings
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for i := range 200 {
				want := fmt.Sprint(i % 20)
				if got, err := drawn(&d, func() (string, error) { return want, nil }, inBytes, want); err != nil || got != want {
					t.Errorf("drew %q for %q: %v", got, want, err)
				}
			}
		})
	}
	all.Wait()
}

// TestFieldsAreKeptApart: what somebody typed is not kept, and fields that differ in anything are not taken for each other.
func TestFieldsAreKeptApart(t *testing.T) {
	t.Parallel()
	typed := Field{Kind: "text", Name: "note", Value: "allergic to bee stings"}
	if typed.usual() || (Field{Kind: "select", Wrong: "choose one"}).usual() || !(Field{Kind: "text", Name: "note"}).usual() {
		t.Error("what is one person's alone is not told from what is the same for everybody")
	}
	fields := []Field{
		{}, {Name: "a"}, {Label: "a"}, {Hint: "a"}, {Kind: "a"}, {Value: "a"}, {Wrong: "a"}, {Unit: "a"}, {Min: "a"}, {Max: "a"}, {Step: "a"}, {Most: 1}, {Accept: "a"},
		{Needed: true}, {Choices: []Choice{{}}}, {Choices: []Choice{{Chosen: true}}}, {Choices: []Choice{{Value: "a"}}}, {Choices: []Choice{{Label: "a"}}},
		{Choices: []Choice{{Value: "a", Label: "b"}}}, {Choices: []Choice{{Value: "ab"}}}, {Choices: []Choice{{}, {}}},
	}
	seen := map[string]int{}
	for i, field := range fields {
		if other, there := seen[field.whole()]; there {
			t.Errorf("%+v is taken for %+v", field, fields[other])
		}
		seen[field.whole()] = i
	}
}

// TestSectionsAreKeptApart: a section of a form in which somebody's own words stand is not kept, nor what was said in it, and sections that differ
// in anything that their template shows are not taken for each other.
func TestSectionsAreKeptApart(t *testing.T) {
	t.Parallel()
	field, other := Field{Name: "a"}, Field{Name: "b"}
	typed := Field{Kind: "text", Name: "label", Value: "Granny's lamp"}
	told := map[string]any{}
	for _, one := range []whole{
		&section{}, &section{ID: "a"}, &section{Title: "a"}, &section{Again: true}, &section{Ticks: []Field{field}}, &section{Ticks: []Field{other}},
		&section{Rows: []fieldRow{{field}}}, &section{More: []fieldRow{{field}}}, &section{Rows: []fieldRow{{field, other}}}, &section{Rows: []fieldRow{{field}, {other}}},
		&section{Lamps: []lampForm{{}}}, &section{Lamps: []lampForm{{At: 1}}}, &section{Lamps: []lampForm{{Title: "a"}}}, &section{Lamps: []lampForm{{End: field}}},
		&section{Lamps: []lampForm{{End: Field{Value: "a"}}}}, &section{Lamps: []lampForm{{Rows: []fieldRow{{field}}}}}, &section{Lamps: []lampForm{{More: []fieldRow{{field}}}}},
		saidSection{Title: "a"}, saidSection{Title: "a", Facts: []saidFact{{"b", "c"}}}, saidSection{Title: "a", Facts: []saidFact{{"bc", ""}}},
	} {
		all, err := one.Whole()
		if before, there := told[all]; err != nil || all == "" || there {
			t.Errorf("%+v is taken for %+v (%v)", one, before, err)
		}
		told[all] = one
	}
	for _, one := range []answer{
		{Finding: &pb.Finding{Standing: pb.Standing_CLEAR}}, {Finding: &pb.Finding{Standing: pb.Standing_BACK, NotDeclared: true}}, {Finding: &pb.Finding{Standing: pb.Standing_HELD, NotDeclared: true}},
		{Finding: &pb.Finding{Standing: pb.Standing_BACK, NotDeclared: true}, Where: "a"}, {Finding: &pb.Finding{Standing: pb.Standing_BACK, NotDeclared: true, Remedy: "a"}},
		{Finding: &pb.Finding{Standing: pb.Standing_BACK, NotDeclared: true, Needed: "a"}},
	} {
		all, err := one.Whole()
		if before, there := told[all]; err != nil || all == "" || there {
			t.Errorf("%+v is taken for %+v (%v)", one, before, err)
		}
		told[all] = one
	}
	said := saidSection{Title: "a"}
	said.add([]fieldRow{{typed}})
	for _, one := range []whole{
		typed, said, answer{Finding: &pb.Finding{Standing: pb.Standing_BACK, Declared: "Granny's lamp"}}, &section{Ticks: []Field{typed}}, &section{Rows: []fieldRow{{field, typed}}}, &section{More: []fieldRow{{typed}}},
		&section{Lamps: []lampForm{{Rows: []fieldRow{{typed}}}}}, &section{Lamps: []lampForm{{More: []fieldRow{{typed}}}}},
	} {
		if all, err := one.Whole(); all != "" || err != nil {
			t.Errorf("what somebody typed is kept: %q (%v)", all, err)
		}
	}
}
