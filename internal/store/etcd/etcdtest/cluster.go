package etcdtest

import (
	"context"
	"crypto/tls"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Cluster is an etcd of several members, each a process of its own, on this machine.
type Cluster struct {
	t       testing.TB
	members []*member
	// way is how its members are talked to; nil: in the open.
	way *tls.Config
}

type member struct {
	name, folder, client string
	flags                []string
	process              *exec.Cmd
}

// NewCluster starts an etcd of so many members, with etcd's own times for heartbeats and elections, and what flags say; it ends with
// the test.
func NewCluster(t testing.TB, members int, flags ...string) *Cluster {
	t.Helper()
	return newCluster(t, members, nil, flags)
}

// NewSecureCluster is NewCluster with TLS: each member has a certificate of its own, for its own address, and lets in who shows one of the
// same authority.
func NewSecureCluster(t testing.TB, members int, authority *Authority) *Cluster {
	t.Helper()
	return newCluster(t, members, authority, nil)
}

func newCluster(t testing.TB, members int, authority *Authority, flags []string) *Cluster {
	t.Helper()
	folder, err := os.MkdirTemp("", "gritward-etcd") // on a disk: what it does not have yet, it has not
	if err != nil {
		t.Fatal(err)
	}
	c := &Cluster{t: t}
	t.Cleanup(func() {
		for i := range c.members {
			c.Kill(i)
		}
		if err := os.RemoveAll(folder); err != nil {
			t.Error(err)
		}
	})
	var all []string
	for i := range members {
		host, scheme := "127.0.0.1", "http://"
		if authority != nil {
			host, scheme = fmt.Sprint("127.0.0.", i+1), "https://"
		}
		m := &member{name: fmt.Sprint("m", i), client: freeAddressOf(host)}
		m.folder = filepath.Join(folder, m.name)
		peer := "http://" + freeAddress()
		all = append(all, m.name+"="+peer)
		m.flags = []string{"--name", m.name, "--data-dir", m.folder, "--listen-client-urls", scheme + m.client, "--advertise-client-urls", scheme + m.client,
			"--listen-peer-urls", peer, "--initial-advertise-peer-urls", peer, "--logger", "zap", "--log-level", "error"}
		m.flags = append(m.flags, flags...)
		if authority != nil {
			cert, key := authority.Issue(t, m.name, time.Hour, host)
			m.flags = append(m.flags, "--cert-file", cert, "--key-file", key, "--client-cert-auth", "--trusted-ca-file", authority.File)
		}
		c.members = append(c.members, m)
	}
	if authority != nil {
		c.way = authority.Way(t)
	}
	for i, m := range c.members {
		m.flags = append(m.flags, "--initial-cluster", strings.Join(all, ","))
		c.Start(i)
	}
	if err := ready(c.Addresses(), c.way, c.members[0].folder+".log"); err != nil {
		t.Fatal(err)
	}
	return c
}

// Addresses are those of all members.
func (c *Cluster) Addresses() (addresses []string) {
	for _, m := range c.members {
		addresses = append(addresses, m.client)
	}
	return addresses
}

// Start starts a member, again where it was killed.
func (c *Cluster) Start(i int) {
	c.t.Helper()
	m := c.members[i]
	log, err := os.OpenFile(m.folder+".log", os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		c.t.Fatal(err)
	}
	defer func() { _ = log.Close() }()
	m.process = exec.Command("etcd", m.flags...)
	m.process.Stdout, m.process.Stderr = log, log
	if err := m.process.Start(); err != nil {
		c.t.Fatal(err)
	}
}

// Kill kills a member, as SIGKILL does.
func (c *Cluster) Kill(i int) {
	if m := c.members[i]; m.process != nil {
		_ = m.process.Process.Kill()
		_ = m.process.Wait()
		m.process = nil
	}
}

// Freeze stops a member without ending it: it answers nobody, as if it were cut off, and its connections stay. Thaw lets it go on.
func (c *Cluster) Freeze(i int) { c.signal(i, syscall.SIGSTOP) }
func (c *Cluster) Thaw(i int)   { c.signal(i, syscall.SIGCONT) }

func (c *Cluster) signal(i int, what syscall.Signal) {
	c.t.Helper()
	if err := c.members[i].process.Process.Signal(what); err != nil {
		c.t.Error(err)
	}
}

// Leader is which member leads.
func (c *Cluster) Leader() int {
	c.t.Helper()
	client := Client(c.t, c.Addresses()...)
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for ctx.Err() == nil {
		for i, m := range c.members {
			if m.process == nil {
				continue
			}
			attempt, done := context.WithTimeout(ctx, time.Second)
			told, err := client.Status(attempt, m.client)
			done()
			if err == nil && told.Header.MemberId == told.Leader {
				return i
			}
		}
	}
	c.t.Fatal("no member leads")
	return 0
}
