package etcd

import (
	"context"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/client/v3/concurrency"
)

// dutyPrefix is what the keys of those begin with who are on duty, or wait to be: there is one for each server.
func (s *Store) dutyPrefix() string { return s.prefix + "duty/" }

// nobodyOnDuty holds while there is none. A key that is not there compares as if its revision were 0, and so does a range without any
// (etcd's server/etcdserver/txn, applyCompare).
func (s *Store) nobodyOnDuty() clientv3.Cmp {
	return clientv3.Compare(clientv3.CreateRevision(s.dutyPrefix()), "=", 0).WithPrefix()
}

// duty is one time of being on duty: the key that stands for it, which goes with its lease.
type duty struct {
	key     string
	created int64
}

// still holds while nobody else may be on duty.
func (d *duty) still() clientv3.Cmp {
	return clientv3.Compare(clientv3.CreateRevision(d.key), "=", d.created)
}

type dutyKey struct{}

// dutyOf is the duty in whose name a context does something; nil: in nobody's.
func dutyOf(ctx context.Context) *duty {
	d, _ := ctx.Value(dutyKey{}).(*duty)
	return d
}

// OnDuty implements store.Store, by an election of etcd's: the one on duty has a lease, which it keeps up; when it is gone the next
// one is on duty as soon as the lease has run out, or at once where it gave it back.
func (s *Store) OnDuty(ctx context.Context, do func(context.Context) error) error {
	for pause := firstPause; ; pause = min(2*pause, longestPause) {
		if ctx.Err() != nil || s.ending.Err() != nil {
			return nil
		}
		began, err := s.onceOnDuty(ctx, do)
		if err != nil || began && ctx.Err() != nil {
			return err
		}
		if began {
			pause = firstPause
		}
		sleep(ctx, pause)
	}
}

// onceOnDuty waits until this server is on duty, and runs do until it is no more. The error is one of do.
func (s *Store) onceOnDuty(ctx context.Context, do func(context.Context) error) (began bool, err error) {
	granting, cancel := context.WithTimeout(ctx, s.Timeout)
	lease, err := s.client.Grant(granting, int64(s.DutyTTL/time.Second))
	cancel()
	if err != nil {
		return false, nil
	}
	session, err := concurrency.NewSession(s.client, concurrency.WithLease(lease.ID), concurrency.WithTTL(int(s.DutyTTL/time.Second)),
		concurrency.WithContext(context.WithoutCancel(ctx))) // so that the lease can be given back in the end
	if err != nil {
		return false, nil
	}
	defer func() { _ = session.Close() }()
	within, stop := context.WithCancel(ctx)
	defer stop()
	go func() {
		select {
		case <-session.Done():
		case <-s.ending.Done():
		case <-within.Done():
		}
		stop()
	}()
	election := concurrency.NewElection(session, s.prefix+"duty")
	if election.Campaign(within, "") != nil {
		return false, nil
	}
	on := &duty{key: election.Key(), created: election.Rev()}
	err = do(context.WithValue(within, dutyKey{}, on))
	if within.Err() != nil && ctx.Err() == nil {
		err = nil // another one goes on
	}
	return true, err
}
