package readiness_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	yaml "go.yaml.in/yaml/v4"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/readiness"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

var update = flag.Bool("update", false, "write the .want files of testdata/readiness anew")

// caseFile is one case: a rule, a bike, its care log and a group.
type caseFile struct {
	Rule, Facts      yaml.Node
	Care             []map[string]any
	Group            map[string]any
	CertifiedAt      string `yaml:"certified_at"`
	LastWetRideOn    string `yaml:"last_wet_ride_on"`
	DeclarationValid string `yaml:"declaration_valid"`
}

// TestCases compares whole findings with what stands beside each file of testdata/readiness. A name begins with what
// comes of the case: met, broken, or silent where a fact was not declared.
func TestCases(t *testing.T) {
	files, err := filepath.Glob("../../testdata/readiness/*/*.yaml")
	if err != nil || len(files) < 120 {
		t.Fatalf("%d cases, %v", len(files), err)
	}
	for _, file := range files {
		check, name := filepath.Base(filepath.Dir(file)), strings.TrimSuffix(filepath.Base(file), ".yaml")
		t.Run(check+"/"+name, func(t *testing.T) {
			f := judgeFile(t, file)
			if want := strings.ToUpper(check); f.GetCheck().String() != want {
				t.Errorf("a case of %v", f.GetCheck())
			}
			outcome := "met"
			if f.GetStanding() != pb.Standing_CLEAR {
				outcome = map[bool]string{true: "silent", false: "broken"}[f.GetNotDeclared()]
			}
			if !strings.HasPrefix(name, outcome+"_") {
				t.Errorf("it is %s: %v", outcome, f)
			}
			got := fmt.Sprintf("standing: %s\nneeded:   %s\ndeclared: %s\nremedy:   %s\n", f.GetStanding(), f.GetNeeded(), f.GetDeclared(), f.GetRemedy())
			wantFile := strings.TrimSuffix(file, ".yaml") + ".want"
			if *update {
				if err := os.WriteFile(wantFile, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(wantFile)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// judgeFile judges the bike of a case in its group, which starts on 13 December 2026 at 09:00, the evening before. The
// bike was certified on 1 December at noon.
func judgeFile(t *testing.T, file string) *pb.Finding {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var c caseFile
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	decoder.KnownFields(true)
	if err := decoder.Decode(&c); err != nil {
		t.Fatal(err)
	}
	rule, facts, group := &pb.Rule{}, &pb.BikeFacts{}, &pb.GroupPlan{Group: "steady", StartAt: timestamppb.New(start)}
	strict(t, &c.Rule, rule)
	strict(t, &c.Facts, facts)
	loose(t, c.Group, group)
	bike := readiness.Subject{LastWetRideOn: c.LastWetRideOn, Declaration: &pb.Declaration{Facts: facts}}
	switch c.CertifiedAt {
	case "":
		bike.Declaration.CertifiedAt = timestamppb.New(time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC))
	case "never":
		bike.Declaration = nil
	default:
		at, err := time.Parse(time.RFC3339, c.CertifiedAt)
		if err != nil {
			t.Fatal(err)
		}
		bike.Declaration.CertifiedAt = timestamppb.New(at)
	}
	for i, e := range c.Care {
		entry := &pb.CareEntry{Name: fmt.Sprintf("care/%d", i)}
		loose(t, e, entry)
		bike.Care = append(bike.Care, entry)
	}
	return finding(t, book(rule), bike, group)
}

// strict reads a part of a case as policy files and bike files are read.
func strict(t *testing.T, node *yaml.Node, into proto.Message) {
	t.Helper()
	if node.IsZero() {
		return
	}
	text, err := yaml.Marshal(node)
	if err != nil {
		t.Fatal(err)
	}
	fields := map[string]protoreflect.Name{}
	for _, check := range readiness.Known() {
		word := strings.ToLower(check.String())
		fields[word] = protoreflect.Name(word)
	}
	options := strictyaml.Options{What: "case", Choices: map[protoreflect.FullName]strictyaml.Choice{
		"gritward.v1.Rule.need": {By: "check", Fields: fields}}}
	if _, problems := strictyaml.Decode("case", text, into, options); len(problems) > 0 {
		t.Fatal(strictyaml.Format(problems))
	}
}

// loose reads a part of a case as protobuf's JSON.
func loose(t *testing.T, part map[string]any, into proto.Message) {
	t.Helper()
	if part == nil {
		return
	}
	text, err := json.Marshal(part)
	if err != nil {
		t.Fatal(err)
	}
	parsed := into.ProtoReflect().New().Interface()
	if err := protojson.Unmarshal(text, parsed); err != nil {
		t.Fatal(err)
	}
	proto.Merge(into, parsed)
}
