package strictyaml_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// bikeFile has every system of a bike once, in the forms that a member would write.
const bikeFile = `# My winter bike
title: blue winter bike
guards:
  front: {kind: fixed, flap: true, secure: true, clearance: 6mm, width: 45 mm, toe_gap: 100.5mm}
  rear: {kind: clip-on, reach: below-hub, flap: false}
lights:
  - {end: front, mode: steady, lumens: 400lm, runtime: 2h, power: rechargeable, mount: bike, charged_on: 2026-11-07}
  - end: rear
    mode: flashing
    flashes_per_min: 90
    candela: 4cd
    runtime: 90m
    height: 800mm
    standard: BS 6102-3
  - {end: rear, power: dynamo}
chain: {speeds: 11, wear: 0.25%, measured_on: 2026-10-31, lubricant: wet}
carry: {tubes: 2, pump: true}
odometer: 12345.6km
note: |
  Creaks when cold.
  Bottle cage is loose.
`

func bikeOptions() strictyaml.Options { return strictyaml.Options{What: "bike"} }

// bike decodes a bike file.
func bike(text string) (*pb.BikeFacts, *strictyaml.Positions, []*pb.Problem) {
	facts := &pb.BikeFacts{}
	positions, problems := strictyaml.Decode("bike.yaml", []byte(text), facts, bikeOptions())
	return facts, positions, problems
}

// goodBike decodes a bike file that must have no problems.
func goodBike(t *testing.T, text string) *pb.BikeFacts {
	t.Helper()
	facts, _, problems := bike(text)
	if len(problems) > 0 {
		t.Fatalf("problems:\n%s", strictyaml.Format(problems))
	}
	return facts
}

// wantOne wants exactly one problem, at the place, with the words somewhere in its message.
func wantOne(t *testing.T, problems []*pb.Problem, line, column int32, path, message string) {
	t.Helper()
	if len(problems) != 1 {
		t.Fatalf("%d problems, want 1:\n%s", len(problems), strictyaml.Format(problems))
	}
	p := problems[0]
	if p.GetLine() != line || p.GetColumn() != column || p.GetPath() != path || !strings.Contains(p.GetMessage(), message) {
		t.Errorf("got %d:%d %s: %s\nwant %d:%d %s: %s", p.GetLine(), p.GetColumn(), p.GetPath(), p.GetMessage(), line, column, path, message)
	}
}

func ptr[T any](v T) *T { return &v }

func equal(a, b proto.Message) bool { return proto.Equal(a, b) }
