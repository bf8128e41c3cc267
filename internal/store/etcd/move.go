package etcd

import (
	"context"
	"fmt"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
)

func (s *Store) movingKey() string { return s.prefix + "moving" }

// BeginMove makes a store ready to have another one moved into it: from now on no server opens it. It refuses one that has clubs, or
// that a server is on duty for. What a move left that was broken off is deleted first.
func (s *Store) BeginMove(ctx context.Context) error {
	if err := s.Idle(ctx); err != nil {
		return err
	}
	begun, err := s.get(ctx, s.movingKey())
	if err != nil {
		return err
	}
	if len(begun.Kvs) > 0 {
		for _, below := range []string{"clubs/", "listed/", store.DuePrefix} {
			if _, err := tried(ctx, func(ctx context.Context) (*clientv3.DeleteResponse, error) {
				return s.client.Delete(ctx, s.prefix+below, clientv3.WithPrefix())
			}); err != nil {
				return err
			}
		}
		return nil
	}
	clubs, err := s.Clubs(ctx)
	if err != nil {
		return err
	}
	if len(clubs) > 0 {
		return fmt.Errorf("store: %s has clubs below %s already (%v), and nothing was moved: choose another etcd_prefix", s.Where(), s.prefix, clubs)
	}
	_, err = tried(ctx, func(ctx context.Context) (*clientv3.PutResponse, error) { return s.client.Put(ctx, s.movingKey(), "") })
	return err
}

// EndMove lets servers open the store.
func (s *Store) EndMove(ctx context.Context) error {
	_, err := tried(ctx, func(ctx context.Context) (*clientv3.DeleteResponse, error) {
		return s.client.Delete(ctx, s.movingKey())
	})
	return err
}

// Idle refuses while a server is on duty for the store: servers use it.
func (s *Store) Idle(ctx context.Context) error {
	found, err := s.get(ctx, s.dutyPrefix(), clientv3.WithPrefix(), clientv3.WithCountOnly())
	if err == nil && found.Count > 0 {
		err = s.inUse(found.Count)
	}
	return err
}

// inUse is why something waits until so many servers are stopped.
func (s *Store) inUse(servers int64) error {
	return fmt.Errorf("store: %d servers use %s: stop them all, and wait %s", servers, s.Where(), s.DutyTTL)
}
