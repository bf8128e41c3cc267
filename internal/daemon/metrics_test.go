package daemon_test

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"

	"gritward/internal/daemon"
	"gritward/internal/demo"
	"gritward/internal/ledger"
	"gritward/internal/release"
	"gritward/internal/seal"
	answering "gritward/internal/server"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

var update = flag.Bool("update", false, "write what DEVELOPERS.md has of tests anew")

// read asks for the metrics and reads them with the parser of the format's own project.
func read(t *testing.T, address string) map[string]*dto.MetricFamily {
	t.Helper()
	answer, err := http.Get("http://" + address + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return families
}

// TestMetricsOfTheDemo plays the demo over a server whose metrics are read: each name and label is one of the list, with its kind, all
// of the list are there, and the value of each label is a word of the protocol or of the program. None comes from data.
func TestMetricsOfTheDemo(t *testing.T) {
	clock, counters := demo.NewClock(), answering.NewCounters()
	opened, err := bolt.Open(bolt.Options{Path: filepath.Join(t.TempDir(), "club.db"), Now: clock.Now, Observer: counters.Observer()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = opened.Close() })
	keys, err := seal.New()
	if err != nil {
		t.Fatal(err)
	}
	l := ledger.New(opened, clock.Now)
	watch := answering.NewRollWatch()
	server, err := answering.New(answering.Config{Ledger: l, Keys: keys, Log: slog.New(slog.DiscardHandler), MemberID: demo.MemberIDs(), Counters: counters, RollWatch: watch, Mail: true})
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	conn, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	daemon.GaugesOf(l, opened, watch, counters, clock.Now)
	at, err := daemon.ServeOperatorPages(t.Context(), counters, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := demo.Play(t.Context(), l, conn, clock); err != nil {
		t.Fatal(err)
	}
	_, _ = pb.NewClubServiceClient(conn).WhoAmI(t.Context(), &pb.WhoAmIRequest{}) // refused
	if err := watch.Look(t.Context()); err != nil {
		t.Fatal(err)
	}
	words := labelWords()
	seen := map[string]bool{}
	for name, family := range read(t, at.String()) {
		if strings.HasPrefix(name, "process_") || strings.HasPrefix(name, "go_") {
			continue
		}
		want, listed := answering.FamilyOf(name)
		if kind := strings.ToLower(family.GetType().String()); !listed || kind != want.Kind {
			t.Errorf("%s, a %s, is not in the list", name, kind)
			continue
		}
		if family.GetHelp() != want.Help {
			t.Errorf("%s says %q", name, family.GetHelp())
		}
		seen[want.Name] = true
		for _, metric := range family.GetMetric() {
			for _, label := range metric.GetLabel() {
				if !slices.Contains(strings.Split(want.Labels, ", "), label.GetName()) || !slices.Contains(words[label.GetName()], label.GetValue()) {
					t.Errorf("%s has the label %s=%q", name, label.GetName(), label.GetValue())
				}
			}
		}
	}
	for _, family := range answering.Families {
		if !seen[family.Name] {
			t.Errorf("%s is in the list and not served", family.Name)
		}
	}
}

// labelWords are the only values that labels may have.
func labelWords() map[string][]string {
	words := map[string][]string{"method": {"other"}, "version": {release.Number()}, "kind": {"server", "authority"}}
	for method := range answering.AccessTable() {
		words["method"] = append(words["method"], strings.TrimPrefix(method, "/gritward.v1."))
	}
	for code := codes.OK; code <= codes.Unauthenticated; code++ {
		words["code"] = append(words["code"], code.String())
	}
	for reason := range pb.Reason_value {
		words["kind"] = append(words["kind"], reason)
	}
	words["go"] = []string{runtime.Version()}
	return words
}

// TestMetricsAreTold holds the list in DEVELOPERS.md to what is served.
func TestMetricsAreTold(t *testing.T) {
	const path = "../../DEVELOPERS.md"
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var table strings.Builder
	table.WriteString("<!-- metrics: written by go test ./internal/daemon -run TestMetricsAreTold -update -->\n| metric | kind | labels | is |\n| --- | --- | --- | --- |\n")
	for _, f := range answering.Families {
		fmt.Fprintf(&table, "| `%s` | %s | %s | %s |\n", f.Name, f.Kind, f.Labels, f.Help)
	}
	table.WriteString("<!-- end of metrics -->")
	there := regexp.MustCompile(`(?s)<!-- metrics: .*<!-- end of metrics -->`)
	if *update {
		if err := os.WriteFile(path, there.ReplaceAllLiteral(content, []byte(table.String())), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if string(there.Find(content)) != table.String() {
		t.Error("DEVELOPERS.md lists other metrics: go test ./internal/daemon -run TestMetricsAreTold -update, and read the difference")
	}
}

// TestMetricsBounded: whatever a stranger calls makes no new series.
func TestMetricsBounded(t *testing.T) {
	data, _ := founded(t)
	folder := t.TempDir()
	said := servingWith(t, "--data", data, "--operator-listen", "127.0.0.1:0", "--key-file", filepath.Join(folder, "key"))
	at := regexp.MustCompile(`Operator: http://(\S+)/`).FindStringSubmatch(said)
	conn, err := grpc.NewClient(regexp.MustCompile(`127\.0\.0\.1:\d+`).FindString(said), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil || at == nil {
		t.Fatalf("%v: %s", err, said)
	}
	defer conn.Close()
	count := func() (series int) {
		for _, family := range read(t, at[1]) {
			if strings.HasPrefix(family.GetName(), "gritward_") {
				series += len(family.GetMetric())
			}
		}
		return series
	}
	call := func(i int) {
		_ = conn.Invoke(t.Context(), fmt.Sprintf("/gritward.v1.ClubService/Made%d", i), &pb.WhoAmIRequest{}, &pb.WhoAmIResponse{})
		_ = conn.Invoke(t.Context(), fmt.Sprintf("/grpc.health.v1.Made%d/Check", i), &pb.WhoAmIRequest{}, &pb.WhoAmIResponse{})
	}
	call(0)
	before := count()
	for i := range 40 {
		call(i)
	}
	if after := count(); after != before || before < 10 {
		t.Errorf("%d series became %d", before, after)
	}
}

// servingWith runs a server until the test ends, and gives what it said when it had begun.
func servingWith(t *testing.T, args ...string) string {
	t.Helper()
	reader, writer := io.Pipe()
	ended := make(chan int, 1)
	ctx, stop := context.WithCancel(context.Background())
	go func() {
		ended <- daemon.Main(ctx, append([]string{"serve", "--listen", "127.0.0.1:0"}, args...), writer, io.Discard)
		_ = writer.Close()
	}()
	t.Cleanup(func() { stop(); <-ended })
	said, chunk := "", make([]byte, 4096)
	for until := time.Now().Add(time.Minute); !strings.Contains(said, "Operator: ") && time.Now().Before(until); {
		n, err := reader.Read(chunk)
		if err != nil {
			t.Fatalf("the server did not start: %s", said)
		}
		said += string(chunk[:n])
	}
	go func() { _, _ = io.Copy(io.Discard, reader) }()
	return said
}
