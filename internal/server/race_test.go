package server_test

import (
	"crypto/x509"
	"go/ast"
	"go/parser"
	"go/token"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gritward/internal/forecast/endpoint"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// TestShutOutUnderWay takes from a leader what lets the call in while the call is under way: the server has let it in and
// waits for the weather service. Nothing of it may be written.
func TestShutOutUnderWay(t *testing.T) {
	for name, test := range map[string]struct {
		take func(w *world, ride string) error
		want string
	}{
		"device shut out": {func(w *world, _ string) error {
			devices, err := w.clubs.ListDevices(w.as("sec"), &pb.ListDevicesRequest{Parent: club + "/members/lea"})
			if err != nil {
				return err
			}
			_, err = w.clubs.RevokeDevice(w.as("sec"), &pb.RevokeDeviceRequest{Name: devices.Devices[0].Name})
			return err
		}, "Unauthenticated | NOT_SIGNED_IN"},
		"suspended":  {func(w *world, _ string) error { return w.suspendAs("sec", "lea") }, "PermissionDenied | NOT_ALLOWED | you are suspended"},
		"role taken": {func(w *world, _ string) error { return w.rolesAs("sec", "lea", pb.Role_MEMBER) }, "PermissionDenied | NOT_ALLOWED"},
		"ride handed on": {func(w *world, ride string) error {
			_, err := w.change("sec", &pb.Ride{Name: ride, Leader: club + "/members/lou"}, "leader")
			return err
		}, "PermissionDenied | NOT_ALLOWED"},
		"nothing": {func(*world, string) error { return nil }, "no error"},
	} {
		t.Run(name, func(t *testing.T) {
			var w *world
			var during func()
			file := forecastFile(t, "marrowdale.json")
			service := httptest.NewTLSServer(http.HandlerFunc(func(rw http.ResponseWriter, _ *http.Request) {
				during()
				rw.Header().Set("Content-Type", "application/json")
				_, _ = rw.Write(file)
			}))
			t.Cleanup(service.Close)
			roots := x509.NewCertPool()
			roots.AddCert(service.Certificate())
			asks, err := endpoint.New(endpoint.Config{URL: service.URL, UserAgent: "club.example", Timeout: time.Minute, Roots: roots,
				Now: func() time.Time { return w.clock() }})
			if err != nil {
				t.Fatal(err)
			}
			w = newWorldWith(t, server.Forecasts{Endpoint: asks})
			w.member("Lou", nil, pb.Role_LEADER)
			ride := forecastRide(t, w)
			during = func() {
				if err := test.take(w, ride.Name); err != nil {
					t.Error(told(err))
				}
			}
			if _, err = w.readForecast("lea", ride.Name, nil); !strings.HasPrefix(told(err), test.want) {
				t.Errorf("got %s, want %s", told(err), test.want)
			}
			stands, err := w.rides.GetRide(w.as("sec"), &pb.GetRideRequest{Name: ride.Name})
			if err != nil {
				t.Fatal(told(err))
			}
			if wrote := stands.Forecast != nil; wrote != (name == "nothing") {
				t.Errorf("a forecast was written: %v", wrote)
			}
			if entry := w.audited("ReadForecast"); entry != (name == "nothing") {
				t.Errorf("the audit log has an entry: %v", entry)
			}
		})
	}
}

// audited tells whether the audit log has an entry of a method.
func (w *world) audited(method string) bool {
	w.t.Helper()
	return slices.ContainsFunc(w.auditLog(), func(entry *pb.AuditEntry) bool { return strings.HasSuffix(entry.Method, "/"+method) })
}

// TestCallersAreLookedAtAgain holds every use case to a transaction that looks at its caller again: only these functions,
// which have no caller yet or none at all, open one of the ledger's own.
func TestCallersAreLookedAtAgain(t *testing.T) {
	known := []string{"AcceptInvite", "ReadSharedRoster", "remake", "begin", "try", "use", "Settle", "lookAt", "tellOf", "Look", "TakeSurvey", "Expired", "Found", "Invite", "adopt", "admit", "identify", "update", "view"}
	paths, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	opened := map[string]bool{}
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, declared := range file.Decls {
			function, ok := declared.(*ast.FuncDecl)
			if !ok {
				continue
			}
			ast.Inspect(function, func(node ast.Node) bool {
				call, _ := node.(*ast.CallExpr)
				if call == nil {
					return true
				}
				selected, _ := call.Fun.(*ast.SelectorExpr)
				if selected == nil || selected.Sel.Name != "Update" && selected.Sel.Name != "View" || len(call.Args) != 3 { // a counter's takes one
					return true
				}
				opened[function.Name.Name] = true
				if !slices.Contains(known, function.Name.Name) {
					t.Errorf("%s opens a transaction that does not look at its caller: take update or view of the desk", function.Name.Name)
				}
				return true
			})
		}
	}
	for _, name := range known {
		if !opened[name] {
			t.Errorf("%s opens no transaction; take it out of the list", name)
		}
	}
}
