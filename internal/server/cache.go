package server

import "sync"

// cache keeps the newest few results of a pure function, so that a busy ride is not reckoned again for every call. Its
// keys must tell apart all that goes in, the date and the zone too where they count, so that nothing in it is ever stale.
type cache[V any] struct {
	mu     sync.Mutex
	values map[string]V
	order  []string
	limit  int
}

func newCache[V any](limit int) *cache[V] { return &cache[V]{values: map[string]V{}, limit: limit} }

// get gives the value of a key, making it where it is not there. Two callers may make the same value at the same time;
// both get an equal one.
func (c *cache[V]) get(key string, make func() (V, error)) (V, error) {
	value, ok := c.find(key)
	if ok {
		return value, nil
	}
	value, err := make()
	if err == nil {
		c.put(key, value, false)
	}
	return value, err
}

// find gives the value of a key where it is there.
func (c *cache[V]) find(key string) (V, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	value, ok := c.values[key]
	return value, ok
}

// put keeps a value; where the key has one, over says whether it takes its place.
func (c *cache[V]) put(key string, value V, over bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, there := c.values[key]; there {
		if over {
			c.values[key] = value
		}
		return
	}
	if len(c.order) == c.limit {
		delete(c.values, c.order[0])
		c.order = c.order[1:]
	}
	c.order = append(c.order, key)
	c.values[key] = value
}
