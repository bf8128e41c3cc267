package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"gritward/internal/policy"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/vitals"
	pb "gritward/proto/gritward/v1"
)

// backupOld is how old the newest backup may be: a daily one that failed once (common practice, no source).
const backupOld = 2 * day

// keyFile: the keys of emergency contacts are there, and for the server alone.
func (d *doctor) keyFile(context.Context) []vitals.Finding {
	_, err := readKeys(d.settings.KeyFile)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Stat(d.settings.Data); err == nil {
			return warning("key-file", d.settings.KeyFile+" is not there", "The server makes one when nothing is sealed yet, and does not start where something is.", "put it back from its copy, if there was one")
		}
		return well("key-file", "the server makes %s when it first starts", d.settings.KeyFile)
	case err != nil:
		return failing("key-file", err.Error(), "The server does not start.", "do what is said there")
	}
	return well("key-file", "%s, for its owner alone; keep a copy apart from backups", d.settings.KeyFile)
}

// disk: there is room, and what is written arrives.
func (d *doctor) disk(context.Context) []vitals.Finding {
	found := vitals.Disk(d.settings.Data)
	folder := filepath.Dir(d.settings.Data)
	if _, err := os.Stat(folder); found.State == vitals.Failing || err != nil {
		return []vitals.Finding{found}
	}
	began := time.Now()
	if err := writes(folder); err != nil {
		return append([]vitals.Finding{found}, failing("disk-writes", err.Error(), "Nothing can be recorded.", "let the server's user write in "+folder+", and look at the disk's health")...)
	}
	took := time.Since(began)
	if took > time.Second {
		return append([]vitals.Finding{found}, warning("disk-writes", fmt.Sprintf("a write took %s to be on the disk of %s", took.Round(time.Millisecond), folder), "Each deed waits for that.", "look at the disk's health, and at what else writes there")...)
	}
	return append([]vitals.Finding{found}, well("disk-writes", "a write is on the disk of %s in %s", folder, took.Round(100*time.Microsecond))...)
}

// writes writes a small file, waits until the disk has it, and removes it.
func writes(folder string) (err error) {
	file, err := os.CreateTemp(folder, ".gritward-doctor-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close(), os.Remove(file.Name())) }()
	if _, err := file.Write(make([]byte, 4096)); err != nil {
		return err
	}
	return file.Sync()
}

// store: it is sound. A running server is asked; otherwise all of it is read.
func (d *doctor) store(ctx context.Context) []vitals.Finding {
	if d.served != nil {
		findings := well("store", "open in the running server (%s), which says of itself:", d.served)
		for _, f := range d.health.Findings {
			f.Check = "server-" + f.Check
			findings = append(findings, f)
		}
		return findings
	}
	if d.settings.Etcd.Used() {
		return d.etcd(ctx)
	}
	if _, err := os.Stat(d.settings.Data); errors.Is(err, fs.ErrNotExist) {
		return warning("store", "there is no "+d.settings.Data+" yet", "Nobody can sign in.", "gritwardd found --help")
	}
	e, err := examine(ctx, d.settings.Data, d.settings.LockTimeout, nil, d.told)
	var locked *store.LockedError
	switch {
	case errors.As(err, &locked):
		return failing("store", d.settings.Data+" is in use by another process that has no operator's socket for this user", "A second server cannot start.", "run the doctor as the server's user, or stop that process")
	case err != nil:
		return failing("store", err.Error(), "The server does not start.", "do what is said there")
	case !e.Sound:
		return failing("store", e.next().Error(), "What is wrong: "+e.summary(), "gritwardd verify lists everything; restore the newest backup that verifies")
	case len(e.Logs) == 0:
		return warning("store", "no club is founded in "+d.settings.Data, "Nobody can sign in.", "gritwardd found --help")
	}
	return well("store", "%s: sound, %s, %s", e.File, size(e.Bytes), counted(int(e.Records), "record"))
}

// members: what keeps the store is well, where that is etcd.
func (d *doctor) members(ctx context.Context) []vitals.Finding {
	if !d.settings.Etcd.Used() || d.served != nil { // a running server says it of itself
		return nil
	}
	findings := etcdFound(ctx, d.settings.Etcd, d.now())
	d.noEtcd = slices.ContainsFunc(findings, func(f vitals.Finding) bool { return f.Check == "etcd-members" && f.State == vitals.Failing })
	return findings
}

// etcd: its store can be opened and read.
func (d *doctor) etcd(ctx context.Context) []vitals.Finding {
	if d.noEtcd {
		return failing("store", "etcd cannot be used", "The server does not start.", "do what is said about etcd-members")
	}
	opened, err := openToRead(ctx, d.settings)
	if err != nil {
		return failing("store", err.Error(), "The server does not start.", "do what is said there")
	}
	defer func() { _ = opened.Close() }()
	clubs, err := opened.Clubs(ctx)
	if err != nil {
		return failing("store", err.Error(), "Calls fail.", etcdWell)
	}
	if len(clubs) == 0 {
		return warning("store", "no club is founded in "+where(d.settings), "Nobody can sign in.", "gritwardd found --help")
	}
	return well("store", "%s: %s", where(d.settings), counted(len(clubs), "club"))
}

// summary is the first thing that is wrong.
func (e *examined) summary() string {
	if len(e.Findings) > 0 {
		return e.Findings[0].String()
	}
	return "the audit log is broken"
}

// backups: the newest is not too old, and was sealed.
func (d *doctor) backups(context.Context) []vitals.Finding {
	folder := d.settings.BackupFolder
	if d.settings.Etcd.Used() {
		return well("backups", "the store is in etcd: keep its snapshots (etcdctl snapshot save)")
	}
	if folder == "" {
		return warning("backups", "backup_folder is not set, so nobody looks whether there are any", "With the disk, everything is lost.",
			"have gritwardd backup run daily, and name the folder of its files in backup_folder")
	}
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return warning("backups", err.Error(), "There is no backup to go back to.", "mkdir -p "+folder+", then gritwardd backup "+filepath.Join(folder, "club.backup"))
	case err != nil:
		return warning("backups", err.Error(), "Nobody sees whether there is a backup to go back to.", "name in backup_folder a folder that gritwardd may read")
	}
	newest, name := time.Time{}, ""
	for _, entry := range entries {
		if at, ok := takenAt(filepath.Join(folder, entry.Name())); ok && at.After(newest) {
			newest, name = at, entry.Name()
		}
	}
	switch age := d.now().Sub(newest); {
	case name == "":
		return warning("backups", "there is no whole backup in "+folder, "There is nothing to go back to.", "gritwardd backup "+filepath.Join(folder, "club.backup"))
	case age > backupOld:
		return warning("backups", fmt.Sprintf("the newest, %s, is %s old", name, age.Round(time.Hour)), "What was done since would be lost.", "see why the daily gritwardd backup does not run")
	default:
		return well("backups", "the newest, %s, is of %s", name, newest.UTC().Format(time.RFC3339))
	}
}

// takenAt is when a file was taken as a backup; false: it is none.
func takenAt(path string) (time.Time, bool) {
	file, err := os.Open(path)
	if err != nil {
		return time.Time{}, false
	}
	defer file.Close()
	seal, err := bolt.ReadSeal(file)
	return seal.TakenAt, err == nil
}

// policyFiles: each file in the folder of policies is in order.
func policyFiles(folder string) (findings []vitals.Finding) {
	if folder == "" {
		return well("policy-files", "no policy folder is named")
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.yaml"))
	if _, statErr := os.Stat(folder); err != nil || statErr != nil {
		return failing("policy-files", fmt.Sprint(errors.Join(err, statErr)), "The server does not start with it.", "make the folder, or name another with policy_folder")
	}
	for _, path := range files {
		content, err := os.ReadFile(path)
		if err != nil {
			findings = append(findings, failing("policy-files", err.Error(), "The policy before it stays in force.", "let the server's user read it")...)
			continue
		}
		_, problems := policy.Read(path, content)
		for _, problem := range problems {
			if problem.Severity == pb.Problem_ERROR {
				findings = append(findings, failing("policy-files", fmt.Sprintf("%s:%d:%d: %s", path, problem.Line, problem.Column, problem.Message), "The policy before it stays in force.", problem.Hint)...)
				break // gritward policy check shows the rest
			}
		}
	}
	if len(findings) == 0 {
		return well("policy-files", "%s in %s in order", counted(len(files), "file"), folder)
	}
	return findings
}
