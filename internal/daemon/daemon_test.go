package daemon_test

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	"gritward/internal/daemon"
	pb "gritward/proto/gritward/v1"
)

// run calls the command line and gives its exit code and what it printed.
func run(t testing.TB, args ...string) (int, string, string) {
	t.Helper()
	t.Setenv("HOME", t.TempDir())
	t.Setenv("XDG_CONFIG_HOME", "")
	var out, errOut bytes.Buffer
	code := daemon.Main(t.Context(), args, &out, &errOut)
	return code, out.String(), errOut.String()
}

// TestDemo plays the demo and looks for all that it must show.
func TestDemo(t *testing.T) {
	code, out, errOut := run(t, "demo", "--once", "--json")
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errOut)
	}
	var issue pb.Roster
	if err := protojson.Unmarshal([]byte(out), &issue); err != nil {
		t.Fatal(err)
	}
	if issue.Number != 1 || len(issue.Placement.Groups) != 3 || !issue.Placement.Proven {
		t.Errorf("issue %d, %d groups, proven %v", issue.Number, len(issue.Placement.Groups), issue.Placement.Proven)
	}
	seen := map[pb.Standing]int{}
	riders := 0
	for _, group := range issue.Placement.Groups {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider == nil {
					continue
				}
				riders++
				seen[rider.Standing]++
				for _, finding := range rider.Findings {
					if finding.Remedy == "" {
						t.Errorf("%s: no remedy for %s", rider.DisplayName, finding.Rule)
					}
				}
			}
		}
	}
	for _, one := range issue.Placement.Unplaced {
		for _, finding := range one.Findings {
			seen[finding.Standing]++
			if finding.Remedy == "" {
				t.Errorf("%s: no remedy for %s", one.DisplayName, finding.Rule)
			}
		}
	}
	for standing := pb.Standing_CLEAR; standing <= pb.Standing_HELD; standing++ {
		if seen[standing] == 0 {
			t.Errorf("nobody of standing %s", standing)
		}
	}
	if riders < 20 {
		t.Errorf("%d riders", riders)
	}
	if easy := issue.Plan.Groups[2]; easy.DarkMin == 0 {
		t.Error("no group is out in the dark")
	}
	if len(issue.Brief.Sections) < 8 {
		t.Errorf("%d sections in the brief", len(issue.Brief.Sections))
	}
}

// TestDemoText prints the roster and the brief, and writes the page.
func TestDemoText(t *testing.T) {
	code, out, errOut := run(t, "demo", "--once")
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errOut)
	}
	for _, want := range []string{"26 members and 30 bikes", "Marrowdale Road Club", "Hetty Marlock", "Silas Whinfell", "certify it again",
		"Easy: held: the light at the rear is 45 min short", "Jun Okare rides in Steady. Reason: back from an injury", "rests on 5\n  rides since 8 Nov: 6 % slower than planned", "Fit a full front guard"} {
		if !strings.Contains(out, want) {
			t.Errorf("the demo does not say %q", want)
		}
	}
	page := regexp.MustCompile(`(?m)print: (\S+\.html)$`).FindStringSubmatch(out)
	if page == nil {
		t.Fatalf("the demo does not say where the page lies:\n%s", out)
	}
	data, err := os.ReadFile(page[1])
	if err != nil || !bytes.Contains(data, []byte("<svg")) {
		t.Errorf("the page %s: %v", page[1], err)
	}
	_ = os.RemoveAll(filepath.Dir(page[1]))
}

// TestFoundAndServe founds a club, serves it, accepts the invite over the wire, and asks for health and reflection
// without a token. A second server on the same store is refused.
func TestFoundAndServe(t *testing.T) {
	data := filepath.Join(t.TempDir(), "sub", "club.db")
	found := []string{"found", "fenwick", "--data", data, "--title", "Fenwick Wheelers", "--secretary", "Ida Rook",
		"--zone", "Europe/London", "--at", "54.1,-2.2", "--json"}
	code, out, errOut := run(t, found...)
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errOut)
	}
	var answer struct {
		Club string `json:"club"`
		Code string `json:"invite_code"`
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil || answer.Club != "clubs/fenwick" {
		t.Fatalf("%v in %s", err, out)
	}
	if code, _, errOut := run(t, found...); code != 1 || errOut != "gritwardd: there is a club \"fenwick\" in this store already\n" {
		t.Errorf("founding twice: exit %d: %s", code, errOut)
	}
	conn := serving(t, insecure.NewCredentials(), "--data", data)
	let, err := pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: answer.Code, DeviceTitle: "test"})
	if err != nil || let.Member.DisplayName != "Ida Rook" {
		t.Errorf("accepting: %v", err)
	}
	_, err = pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: answer.Code, DeviceTitle: "test"})
	if status.Code(err) != codes.PermissionDenied {
		t.Errorf("an invite worked twice: %v", err)
	}
	health, err := healthpb.NewHealthClient(conn).Check(t.Context(), &healthpb.HealthCheckRequest{})
	if err != nil || health.Status != healthpb.HealthCheckResponse_SERVING {
		t.Errorf("health: %v %v", health, err)
	}
	listed := services(t, conn)
	for _, want := range []string{"gritward.v1.ClubService", "gritward.v1.BikeService", "gritward.v1.PolicyService", "gritward.v1.RideService", "grpc.health.v1.Health"} {
		if !strings.Contains(listed, want) {
			t.Errorf("reflection lists %s, not %s", listed, want)
		}
	}
	code, _, errOut = run(t, "serve", "--data", data, "--listen", "127.0.0.1:0", "--lock-timeout", "50ms")
	if code != 1 || !strings.Contains(errOut, "is in use by another process") {
		t.Errorf("a second server: exit %d: %s", code, errOut)
	}
}

// services asks a server by reflection which services it has.
func services(t *testing.T, conn *grpc.ClientConn) string {
	t.Helper()
	stream, err := reflectionpb.NewServerReflectionClient(conn).ServerReflectionInfo(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := stream.Send(&reflectionpb.ServerReflectionRequest{
		MessageRequest: &reflectionpb.ServerReflectionRequest_ListServices{}}); err != nil {
		t.Fatal(err)
	}
	answer, err := stream.Recv()
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, service := range answer.GetListServicesResponse().GetService() {
		names = append(names, service.Name)
	}
	_ = stream.CloseSend()
	return strings.Join(names, " ")
}

// serving runs "serve" with the arguments on a free port until the test ends, and dials it.
func serving(t testing.TB, creds credentials.TransportCredentials, args ...string) *grpc.ClientConn {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	reader, writer := io.Pipe()
	ended := make(chan int, 1)
	var errOut bytes.Buffer
	go func() {
		code := daemon.Main(ctx, append([]string{"serve", "--listen", "127.0.0.1:0"}, args...), writer, &errOut)
		_ = writer.Close()
		ended <- code
	}()
	said := make([]byte, 4096)
	n, err := reader.Read(said)
	if err != nil {
		stop()
		t.Fatalf("the server did not start: exit %d: %s", <-ended, errOut.String())
	}
	go func() { _, _ = io.Copy(io.Discard, reader) }()
	address := regexp.MustCompile(`127\.0\.0\.1:\d+`).FindString(string(said[:n]))
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(creds))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = conn.Close()
		stop()
		if code := <-ended; code != 0 {
			t.Errorf("the server ended with %d: %s", code, errOut.String())
		}
	})
	return conn
}

// TestTLS serves with a certificate: a client that trusts it gets in with TLS 1.3, one without TLS or with TLS 1.2 does
// not.
func TestTLS(t *testing.T) {
	folder := t.TempDir()
	cert, key, pool := certificate(t, folder)
	args := []string{"--data", filepath.Join(folder, "club.db"), "--tls-cert", cert, "--tls-key", key}
	conn := serving(t, credentials.NewTLS(&tls.Config{RootCAs: pool, ServerName: "localhost", MinVersion: tls.VersionTLS12}), args...)
	if _, err := healthpb.NewHealthClient(conn).Check(t.Context(), &healthpb.HealthCheckRequest{}); err != nil {
		t.Fatal(err)
	}
	address := conn.Target()
	_, err := tls.Dial("tcp", address, &tls.Config{RootCAs: pool, ServerName: "localhost", MaxVersion: tls.VersionTLS12})
	if err == nil {
		t.Error("TLS 1.2 is taken")
	}
	plain, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = plain.Close() }()
	if _, err := healthpb.NewHealthClient(plain).Check(t.Context(), &healthpb.HealthCheckRequest{}); status.Code(err) != codes.Unavailable {
		t.Errorf("plain text is taken: %v", err)
	}
}

// certificate writes a certificate for localhost and its key.
func certificate(t *testing.T, folder string) (cert, key string, pool *x509.CertPool) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "localhost"}, DNSNames: []string{"localhost"},
		IPAddresses: []net.IP{net.ParseIP("127.0.0.1")},
		NotBefore:   time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	for path, block := range map[string]*pem.Block{
		cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool = x509.NewCertPool()
	pool.AddCert(parsed)
	return cert, key, pool
}

// TestRefusals tries what the command line does not do, each with its full message.
func TestRefusals(t *testing.T) {
	folder := t.TempDir()
	data := filepath.Join(folder, "club.db")
	tests := []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no TLS beyond this machine", []string{"serve", "--data", data, "--listen", "0.0.0.0:7347"}, 1,
			"gritwardd: --listen: 0.0.0.0:7347 can be reached from other machines, so it needs TLS: say with public_addresses by which names or IP addresses clients reach it, and the server makes certificates for them; or give tls_cert and tls_key; or listen on 127.0.0.1:7347\n"},
		{"a demo beyond this machine", []string{"demo", "--listen", "0.0.0.0:0"}, 2,
			"gritwardd: --listen 0.0.0.0:0: the demo listens on this machine only, for example 127.0.0.1:0\nSee gritwardd --help.\n"},
		{"a zone that is not there", []string{"found", "c", "--title", "C", "--secretary", "S", "--zone", "Europe/Camelot", "--at", "1,2"}, 2,
			"gritwardd: --zone \"Europe/Camelot\" is not a time zone; write one of the IANA names, for example Europe/London\nSee gritwardd --help.\n"},
		{"a place that is none", []string{"found", "c", "--title", "C", "--secretary", "S", "--zone", "Europe/London", "--at", "north"}, 2,
			"gritwardd: --at \"north\" is not LAT,LON in degrees north and east, from -90 to 90 and from -180 to 180, for example 54.08,-2.28\nSee gritwardd --help.\n"},
		{"a place off the globe", []string{"found", "c", "--title", "C", "--secretary", "S", "--zone", "Europe/London", "--at", "154.08,-2.28"}, 2,
			"gritwardd: --at \"154.08,-2.28\" is not LAT,LON in degrees north and east, from -90 to 90 and from -180 to 180, for example 54.08,-2.28\nSee gritwardd --help.\n"},
		{"an id with a capital", []string{"found", "Fenwick"}, 2,
			"gritwardd: \"Fenwick\" cannot be a club's id: use lower-case letters, digits and hyphens, up to 40\nSee gritwardd --help.\n"},
		{"no id", []string{"found"}, 2, "gritwardd: accepts 1 arg(s), received 0\nSee gritwardd --help.\n"},
		{"an unknown flag", []string{"serve", "--port", "1"}, 2, "gritwardd: unknown flag: --port\nSee gritwardd --help.\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			code, _, errOut := run(t, test.args...)
			if code != test.code || errOut != test.want {
				t.Errorf("exit %d, want %d\ngot  %q\nwant %q", code, test.code, errOut, test.want)
			}
		})
	}
	if _, err := os.Stat(data); err == nil {
		t.Error("a refused command made the store")
	}
}
