package bolt

// SetRename has Scrub rename otherwise.
func (s *Store) SetRename(rename func(from, to string) error) { s.rename = rename }
