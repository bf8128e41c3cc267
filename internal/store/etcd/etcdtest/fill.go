package etcdtest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"time"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
)

// filling is the size of what Fill writes at a time.
const filling = 128 << 10

// Fill writes so many bytes beside every store, or until the quota is reached, which it tells.
func (c *Cluster) Fill(bytes int) (full bool) {
	c.t.Helper()
	client := Client(c.t, c.Addresses()...)
	for ; bytes > 0; bytes -= filling {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		_, err := client.Put(ctx, "filler/"+rand.Text(), string(make([]byte, filling)))
		cancel()
		if errors.Is(err, rpctypes.ErrNoSpace) {
			return true
		}
		if err != nil {
			c.t.Fatal(err)
		}
	}
	return false
}

// MakeRoom deletes what Fill wrote, and does what etcd's handbook has for an alarm for want of space
// (https://etcd.io/docs/v3.4/op-guide/maintenance/#space-quota).
func (c *Cluster) MakeRoom() {
	c.t.Helper()
	client := Client(c.t, c.Addresses()...)
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	gone, err := client.Delete(ctx, "filler/", clientv3.WithPrefix())
	if err == nil {
		_, err = client.Compact(ctx, gone.Header.Revision, clientv3.WithCompactPhysical())
	}
	for _, address := range c.Addresses() {
		if err == nil {
			_, err = client.Defragment(ctx, address)
		}
	}
	if err == nil {
		_, err = client.AlarmDisarm(ctx, &clientv3.AlarmMember{})
	}
	if err != nil {
		c.t.Fatal(fmt.Errorf("making room: %w", err))
	}
}
