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
