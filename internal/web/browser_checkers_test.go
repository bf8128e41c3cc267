//go:build browser

package web_test

import (
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// tools is the folder with the checkers, fetched when it is not there yet.
var tools = sync.OnceValues(func() (string, error) {
	folder, err := filepath.Abs("../../.ci/browser")
	if err != nil {
		return "", err
	}
	made := filepath.Join(folder, "node_modules")
	if _, err := os.Stat(filepath.Join(made, "vnu-jar")); err == nil {
		return made, nil
	}
	out, err := exec.Command("npm", "ci", "--silent", "--ignore-scripts", "--no-audit", "--no-fund", "--prefix", folder).CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("npm ci in %s: %w: %s", folder, err, out)
	}
	return made, nil
})

func axeSource(t testing.TB) string {
	t.Helper()
	folder, err := tools()
	if err != nil {
		t.Fatal(err)
	}
	source, err := os.ReadFile(filepath.Join(folder, "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	return string(source)
}

// valid holds pages, by what they are called, against the Nu Html Checker.
func valid(t testing.TB, pages map[string]string) {
	t.Helper()
	folder, err := tools()
	if err != nil {
		t.Fatal(err)
	}
	in := t.TempDir()
	for name, page := range pages {
		if err := os.WriteFile(filepath.Join(in, url.PathEscape(name)+".html"), []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	command := exec.Command("java", "-jar", filepath.Join(folder, "vnu-jar", "build", "dist", "vnu.jar"), "--format", "json", "--skip-non-html", in)
	said, runErr := command.CombinedOutput()
	var report struct {
		Messages []struct {
			Type, SubType, URL, Message, Extract string
			LastLine                             int
		}
	}
	if err := json.Unmarshal(said, &report); err != nil {
		t.Fatalf("vnu: %v: %v: %s", runErr, err, said)
	}
	for _, message := range report.Messages {
		name, _ := url.PathUnescape(strings.TrimSuffix(filepath.Base(message.URL), ".html"))
		name, _ = url.PathUnescape(name)
		if message.Type == "error" || message.SubType == "warning" {
			t.Errorf("%s, line %d: %s: %s", name, message.LastLine, message.Message, strings.TrimSpace(message.Extract))
		}
	}
}
