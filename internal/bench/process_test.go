package bench_test

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/types/known/wrapperspb"

	pb "gritward/proto/gritward/v1"
)

// manyMembers is how many members the file has that processes start on.
const manyMembers = 100_000

// process is a server in a process of its own.
type process struct {
	b       testing.TB
	command *exec.Cmd
	address string
	conn    *grpc.ClientConn
}

// built builds a command of this module as it is handed out: without C, without tables for debuggers.
func built(b testing.TB, of string) string {
	b.Helper()
	path := filepath.Join(fixtures(b), filepath.Base(of))
	build := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", path, of)
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if said, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, said)
	}
	return path
}

// started starts a server and gives it with the time until its first answer, s. args are told the address.
func started(b testing.TB, path string, args func(address string) []string, method string, request *[]byte, token string) (*process, float64) {
	b.Helper()
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	p := &process{b: b, address: free.Addr().String()}
	_ = free.Close()
	p.command = exec.Command(path, args(p.address)...)
	p.command.Env = append(os.Environ(), "XDG_CONFIG_HOME="+fixtures(b))
	var said strings.Builder
	p.command.Stderr = &said
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	spent := took(func() {
		if err := p.command.Start(); err != nil {
			b.Fatal(err)
		}
		var first net.Conn
		for first == nil && ctx.Err() == nil { // until it listens
			if first, _ = net.Dial("tcp", p.address); first == nil {
				time.Sleep(200 * time.Microsecond)
			}
		}
		if first == nil {
			_ = p.command.Process.Kill()
			_ = p.command.Wait()
			b.Fatalf("it does not listen: %s", said.String())
		}
		p.conn, err = grpc.NewClient("passthrough:///"+p.address, grpc.WithTransportCredentials(insecure.NewCredentials()),
			grpc.WithContextDialer(func(context.Context, string) (net.Conn, error) { return first, nil }))
		if err == nil {
			_, err = call(with(ctx, token), p.conn, method, request)
		}
	})
	if err != nil {
		b.Fatalf("%v: %s", err, said.String())
	}
	return p, spent
}

// end stops the process.
func (p *process) end() {
	p.b.Helper()
	_ = p.conn.Close()
	_ = p.command.Process.Kill()
	_ = p.command.Wait()
}

// memory is what of the process lies in memory, MiB.
func (p *process) memory() float64 {
	p.b.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.command.Process.Pid))
	if err != nil {
		p.b.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(status), "VmRSS:")
	kb, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
	if err != nil {
		p.b.Fatal(err)
	}
	return kb / 1024
}

// BenchmarkStart starts the server on a file with 100,000 members, as a process, beside a minimal gRPC server on the same
// file: until the first call is answered, and what they then take of memory once they are at rest.
func BenchmarkStart(b *testing.B) {
	const rounds, rest = 9, 2 * time.Second
	file := manyMembersFile(b)
	program, least := built(b, "gritward/cmd/gritwardd"), built(b, "gritward/internal/bench/minimal")
	who, key := wire(b, &pb.WhoAmIRequest{}), wire(b, wrapperspb.String("fell"))
	var ours, beside, ourMemory, leastMemory []float64
	for b.Loop() {
		for round := range rounds {
			p, spent := started(b, program, func(address string) []string {
				return []string{"serve", "--data", file, "--listen", address, "--log-level", "error"}
			}, "/gritward.v1.ClubService/WhoAmI", who, token(round+1))
			ours = append(ours, spent)
			if round == rounds-1 {
				time.Sleep(rest)
				ourMemory = append(ourMemory, p.memory())
			}
			p.end()
			m, spent := started(b, least, func(address string) []string { return []string{address, file} }, "/bench.Minimal/Get", key, "none")
			beside = append(beside, spent)
			if round == rounds-1 {
				time.Sleep(rest)
				leastMemory = append(leastMemory, m.memory())
			}
			m.end()
		}
	}
	report(b, row{what: "start to first answer, 100,000 members in the file, beside a minimal gRPC server",
		ours: ms(median(ours)), beside: ms(median(beside)), ratio: median(ours) / median(beside), reach: 2, wall: true})
	report(b, row{what: "memory at rest after that, beside the same", ours: fmt.Sprintf("%.1f MiB", median(ourMemory)),
		beside: fmt.Sprintf("%.1f MiB", median(leastMemory)), ratio: median(ourMemory) / median(leastMemory), reach: 2})
}

// many is a file with many members, which several benchmarks share.
var many string

// manyMembersFile is the path of a store with many members, made once.
func manyMembersFile(b *testing.B) string {
	b.Helper()
	if many == "" {
		c := newClub(b, manyMembers)
		c.close()
		many = c.path
	}
	return many
}
