// Command manual writes the man pages of both programs and their completions for shells, from the commands themselves.
//
//	manual FOLDER
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
	"github.com/spf13/pflag"

	"gritward/internal/cli"
	"gritward/internal/daemon"
	"gritward/internal/release"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "manual FOLDER")
		os.Exit(2)
	}
	if err := write(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// write writes all into a folder, which is made: man/*.1 and *.8, bash/*, zsh/_*, fish/*.fish.
func write(folder string) error {
	for _, program := range []struct {
		root    *cobra.Command
		section string // of the manual (man-pages(7)): commands of users, and of who runs the machine
	}{{cli.Root(), "1"}, {daemon.Root(), "8"}} {
		for _, below := range []string{"man", "bash", "zsh", "fish"} {
			if err := os.MkdirAll(filepath.Join(folder, below), 0o755); err != nil {
				return err
			}
		}
		name := program.root.Name()
		plain(program.root)
		program.root.DisableAutoGenTag = true
		written := time.Unix(0, 0).UTC() // the same source makes the same pages
		header := &doc.GenManHeader{Section: program.section, Source: "gritward " + release.Number(), Manual: "gritward", Date: &written}
		if err := doc.GenManTree(program.root, header, filepath.Join(folder, "man")); err != nil {
			return err
		}
		for path, make := range map[string]func(string) error{
			filepath.Join("bash", name):         func(to string) error { return program.root.GenBashCompletionFileV2(to, true) },
			filepath.Join("zsh", "_"+name):      program.root.GenZshCompletionFile,
			filepath.Join("fish", name+".fish"): func(to string) error { return program.root.GenFishCompletionFile(to, true) },
		} {
			if err := make(filepath.Join(folder, path)); err != nil {
				return err
			}
		}
	}
	return nil
}

// plain has the pages tell nothing of who built them: defaults in texts name folders of the user's.
func plain(command *cobra.Command) {
	if home, err := os.UserHomeDir(); err == nil && home != "/" {
		command.PersistentFlags().VisitAll(func(f *pflag.Flag) { f.Usage = strings.ReplaceAll(f.Usage, home, "~") })
		command.Flags().VisitAll(func(f *pflag.Flag) { f.Usage = strings.ReplaceAll(f.Usage, home, "~") })
	}
	for _, sub := range command.Commands() {
		plain(sub)
	}
}
