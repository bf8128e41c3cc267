package bolt

import (
	"os"

	"go.etcd.io/bbolt"
)

// SetRename has Scrub rename otherwise.
func (s *Store) SetRename(rename func(from, to string) error) { s.rename = rename }

// SetOpenFile has Open open the file otherwise.
func (o *Options) SetOpenFile(open func(path string, flag int, mode os.FileMode) (*os.File, error)) {
	o.openFile = open
}

// SchemaStep is what AddSteps takes.
type SchemaStep = schemaStep

// AddSteps has Open know later schema numbers.
func (o *Options) AddSteps(more ...SchemaStep) { o.steps = append(steps(), more...) }

// EachValue is eachValue.
var EachValue = eachValue

// CheckPages is checkPages.
var CheckPages = checkPages

// ParseSeal is parseSeal.
var ParseSeal = parseSeal

// Line is the last line of a backup.
func (s Seal) Line() string { return s.line() }

// Waiting is how many are in the line.
func (s *Store) Waiting() int {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return len(s.queue.waiting)
}

// Commits is the number of the file's last commit.
func (s *Store) Commits() int {
	number := 0
	_ = s.read(func(under *bbolt.Tx, _ uint64) error { number = under.ID(); return nil })
	return number
}

// Closed tells whether nobody gets into the line any more.
func (s *Store) Closed() bool {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return s.queue.closed
}
