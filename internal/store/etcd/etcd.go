// Package etcd is a store in etcd, by its client library, for any number of servers at once. Each keeps the clubs that it serves
// in memory, brought up to date by etcd's watch, and makes sure with etcd that they are the newest before it answers from them; what
// it writes it commits only if nobody else wrote to the club since.
package etcd

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

const (
	// attemptTime is for how long one member of etcd is waited for before another one is asked.
	attemptTime = time.Second
	// pingEvery is how often a connection is looked after: etcd allows no less than 5 s (--grpc-keepalive-min-time).
	pingEvery   = 6 * time.Second
	pingTimeout = 2 * time.Second
)

// Store implements store.Store.
type Store struct {
	client *clientv3.Client
	Options
	prefix string
	// stream is the number of the stream that watches go over.
	stream atomic.Int64
	// waiting is how many transactions are in all lines.
	waiting atomic.Int64
	// lost is how many commits came too late, and were run again.
	lost atomic.Int64

	// ending ends with the store; users are the calls under way.
	ending context.Context
	end    context.CancelFunc
	users  sync.WaitGroup

	mu      sync.Mutex
	closed  bool
	mirrors map[string]*mirror
}

var _ store.Store = (*Store)(nil)

// Open opens the store that etcd keeps, or makes a new one.
func Open(ctx context.Context, options Options) (*Store, error) {
	options, err := options.filled()
	if err != nil {
		return nil, err
	}
	client, err := newClient(options)
	if err != nil {
		return nil, err
	}
	s := &Store{client: client, Options: options, prefix: options.Prefix, mirrors: map[string]*mirror{}}
	s.ending, s.end = context.WithCancel(context.Background())
	if err := s.checkSchema(ctx); err != nil {
		s.end()
		return nil, errors.Join(err, client.Close())
	}
	return s, nil
}

// Lost is how many commits came too late since the store was opened, since another server wrote to the same club; they were run
// again.
func (s *Store) Lost() int64 { return s.lost.Load() }

// Whole ends never: what etcd answers is held against etcd's own sums.
func (s *Store) Whole() context.Context { return context.Background() }

// Waiting is how many transactions wait to write, over all clubs.
func (s *Store) Waiting() int { return int(s.waiting.Load()) }

// Where says where the store is, for people.
func (s *Store) Where() string { return "etcd at " + strings.Join(s.Endpoints, ", ") }

// checkSchema lays out a new store unless it is ReadOnly, and refuses one with a schema that is not known, or that a move left unfinished.
func (s *Store) checkSchema(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, s.Timeout)
	defer cancel()
	there, err := s.schema(ctx)
	if err != nil || there || s.ReadOnly {
		return err
	}
	made, err := proto.Marshal(&pb.StoreInfo{Schema: Schema, CreatedAt: timestamppb.New(s.Now())})
	if err != nil {
		return err
	}
	if _, err = tried(ctx, func(ctx context.Context) (*clientv3.TxnResponse, error) {
		return s.client.Txn(ctx).If(clientv3.Compare(clientv3.CreateRevision(s.infoKey()), "=", 0)).Then(clientv3.OpPut(s.infoKey(), string(made))).Commit()
	}); err != nil {
		return fmt.Errorf("store: %s: %w", s.Where(), s.full(err))
	}
	_, err = s.schema(ctx) // another server may have been faster
	return err
}

// schema tells whether a store is there, and refuses one that this program cannot open. It writes nothing to one of the newest
// schema: a full etcd can be read.
func (s *Store) schema(ctx context.Context) (there bool, err error) {
	found, err := tried(ctx, func(ctx context.Context) (*clientv3.TxnResponse, error) {
		return s.client.Txn(ctx).Then(clientv3.OpGet(s.infoKey()), clientv3.OpGet(s.movingKey())).Commit()
	})
	if err != nil {
		return false, s.explained(context.WithoutCancel(ctx), err)
	}
	kvs, info := found.Responses[0].GetResponseRange().Kvs, &pb.StoreInfo{}
	if len(kvs) == 0 {
		return false, nil
	}
	if err := proto.Unmarshal(kvs[0].Value, info); err != nil || info.Schema < 1 {
		return true, fmt.Errorf("store: what lies under %s in %s is another program's: choose another prefix", s.prefix, s.Where())
	}
	if info.Schema > Schema {
		return true, fmt.Errorf("store: %s has schema %d and this program knows schemas up to %d: start a newer program", s.Where(), info.Schema, Schema)
	}
	if len(found.Responses[1].GetResponseRange().Kvs) > 0 && !s.Moving {
		return true, fmt.Errorf("store: a move into %s was broken off: run gritwardd move again, or delete the keys that begin with %s", s.Where(), s.prefix)
	}
	if info.Schema < Schema && !s.ReadOnly {
		return true, s.toNewest(ctx, info, kvs[0].ModRevision)
	}
	return true, nil
}

// toNewest takes the store to the newest schema, from which on an older program does not open it. One that runs would leave out what
// this one needs, so there must be none at that very moment.
func (s *Store) toNewest(ctx context.Context, info *pb.StoreInfo, at int64) error {
	was := info.Schema
	info.Schema = Schema
	made, err := proto.Marshal(info)
	if err != nil {
		return err
	}
	told, err := tried(ctx, func(ctx context.Context) (*clientv3.TxnResponse, error) {
		return s.client.Txn(ctx).If(clientv3.Compare(clientv3.ModRevision(s.infoKey()), "=", at), s.nobodyOnDuty()).
			Then(clientv3.OpPut(s.infoKey(), string(made))).
			Else(clientv3.OpGet(s.infoKey()), clientv3.OpGet(s.dutyPrefix(), clientv3.WithPrefix(), clientv3.WithCountOnly())).Commit()
	})
	if err != nil {
		return fmt.Errorf("store: %s: %w", s.Where(), s.full(err))
	}
	if told.Succeeded {
		return nil
	}
	if kvs := told.Responses[0].GetResponseRange().Kvs; len(kvs) > 0 && kvs[0].ModRevision != at {
		return nil // another one was faster, and did the same
	}
	return fmt.Errorf("%w: it has schema %d, and is taken to %d only while no server of an older program uses it",
		s.inUse(told.Responses[1].GetResponseRange().Count), was, Schema)
}

// enter lets a call in, which must end with users.Done.
func (s *Store) enter() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return store.ErrClosed
	}
	s.users.Add(1)
	return nil
}

// Close implements store.Store.
func (s *Store) Close() error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return nil
	}
	s.closed = true
	s.mu.Unlock()
	s.users.Wait()
	s.end()
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.mirrors {
		m.watchers.close()
		<-m.ended
	}
	if err := s.client.Close(); err != nil && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("store: closing the way to etcd: %w", err)
	}
	return nil
}

// Clubs implements store.Store.
func (s *Store) Clubs(ctx context.Context) (clubs []string, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := s.enter(); err != nil {
		return nil, err
	}
	defer s.users.Done()
	prefix := s.listedKey("")
	found, err := s.get(ctx, prefix, clientv3.WithPrefix(), clientv3.WithKeysOnly())
	if err != nil {
		return nil, err
	}
	for _, kv := range found.Kvs {
		clubs = append(clubs, strings.TrimPrefix(string(kv.Key), prefix))
	}
	return clubs, nil
}

// get reads from etcd what is newest there, or as it was at a revision.
func (s *Store) get(ctx context.Context, key string, options ...clientv3.OpOption) (*clientv3.GetResponse, error) {
	within, cancel := context.WithTimeout(ctx, s.Timeout)
	defer cancel()
	found, err := tried(within, func(ctx context.Context) (*clientv3.GetResponse, error) { return s.client.Get(ctx, key, options...) })
	if err != nil && ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return found, err
}

// tried does what may be done many times over, until it succeeds or the context ends: each time another member is asked.
func tried[T any](ctx context.Context, do func(context.Context) (T, error)) (done T, err error) {
	for pause := firstPause; ; pause = min(2*pause, longestPause) {
		attempt, cancel := context.WithTimeout(ctx, attemptTime)
		done, err = do(attempt)
		cancel()
		if err == nil || refused(err) {
			return done, err
		}
		if sleep(ctx, pause); ctx.Err() != nil {
			return done, unreachable(err)
		}
	}
}

// refused tells whether etcd answered, and will not answer otherwise: nothing was done.
func refused(err error) bool {
	if errors.Is(err, rpctypes.ErrCompacted) {
		return true
	}
	var told rpctypes.EtcdError
	code := status.Code(err)
	if errors.As(err, &told) {
		code = told.Code()
	}
	switch code {
	case codes.InvalidArgument, codes.PermissionDenied, codes.Unauthenticated, codes.ResourceExhausted, codes.OutOfRange:
		return true
	}
	return false
}

func unreachable(err error) error { return fmt.Errorf("%w (%v)", store.ErrUnreachable, err) }
