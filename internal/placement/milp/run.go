package milp

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// Solver is a program that solves models.
type Solver struct {
	// Name is that of the program, Package the Debian package that has it.
	Name, Package string
	args          func(file, out string, limit time.Duration) []string
	read          func(out string) (Answer, error)
}

// GLPK and CBC as Debian has them, with their own settings.
var (
	GLPK = Solver{"glpsol", "glpk-utils", func(file, out string, limit time.Duration) []string {
		return []string{"--lp", file, "--write", out, "--tmlim", seconds(limit)}
	}, readGLPK}
	CBC = Solver{"cbc", "coinor-cbc", func(file, out string, limit time.Duration) []string {
		return []string{file, "seconds", seconds(limit), "solve", "solution", out}
	}, readCBC}
)

// Solvers are those that tests compare with.
var Solvers = []Solver{GLPK, CBC}

func seconds(d time.Duration) string { return strconv.Itoa(int(math.Ceil(d.Seconds()))) }

// Answer is how a solver ended.
type Answer struct {
	Optimal    bool // otherwise it is infeasible, or the time ran out
	Infeasible bool
	Objective  int64
}

// Find reports an error that says how to install the solver if it is missing.
func (s Solver) Find() error {
	if _, err := exec.LookPath(s.Name); err != nil {
		return fmt.Errorf("milp: %s is not installed: apt-get install %s", s.Name, s.Package)
	}
	return nil
}

// Solve writes a model into a folder and has it solved. An answer that is neither
// optimal nor infeasible means that the time limit was met.
func (s Solver) Solve(ctx context.Context, folder string, m *Model, limit time.Duration) (Answer, error) {
	file := filepath.Join(folder, s.Name+".lp")
	f, err := os.Create(file)
	if err != nil {
		return Answer{}, err
	}
	if err := errors.Join(m.Write(f), f.Close()); err != nil {
		return Answer{}, err
	}
	return s.SolveFile(ctx, file, limit)
}

// SolveFile has a model in a file solved.
func (s Solver) SolveFile(ctx context.Context, file string, limit time.Duration) (Answer, error) {
	if err := s.Find(); err != nil {
		return Answer{}, err
	}
	out := file + "." + s.Name
	log, err := exec.CommandContext(ctx, s.Name, s.args(file, out, limit)...).CombinedOutput()
	if err != nil {
		return Answer{}, fmt.Errorf("milp: %s %s: %w\n%s", s.Name, file, err, log)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		if strings.Contains(string(log), "PROBLEM HAS NO") { // GLPK's presolver
			return Answer{Infeasible: true}, nil
		}
		return Answer{}, fmt.Errorf("milp: %s left no answer: %w\n%s", s.Name, err, log)
	}
	a, err := s.read(string(text))
	if err != nil {
		return a, fmt.Errorf("milp: %s %s: %w\n%s", s.Name, file, err, log)
	}
	return a, nil
}

// readGLPK reads what GLPK writes: "s mip ROWS COLUMNS STATUS OBJECTIVE", with the
// status o for optimal, n for infeasible, f and u when the time ran out.
func readGLPK(out string) (Answer, error) {
	for line := range strings.Lines(out) {
		w := strings.Fields(line)
		if len(w) == 6 && w[0] == "s" && w[1] == "mip" {
			return answer(w[4] == "o", w[4] == "n", w[5])
		}
	}
	return Answer{}, fmt.Errorf("no status in %.200q", out)
}

// readCBC reads the first line that CBC writes: "STATUS - objective value X".
func readCBC(out string) (Answer, error) {
	line, _, _ := strings.Cut(out, "\n")
	status, value, ok := strings.Cut(line, " - objective value ")
	if !ok {
		return Answer{}, fmt.Errorf("no status in %.200q", out)
	}
	return answer(status == "Optimal", strings.Contains(status, "nfeasible"), strings.TrimSpace(value))
}

func answer(optimal, infeasible bool, value string) (Answer, error) {
	a := Answer{Optimal: optimal, Infeasible: infeasible}
	if !optimal {
		return a, nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return a, err
	}
	if a.Objective = int64(math.Round(x)); math.Abs(x-math.Round(x)) > 1e-4 {
		return a, fmt.Errorf("the objective %s is not whole, as that of a whole problem must be", value)
	}
	return a, nil
}
