package web

// myself is one's own page.
func (v *visit) myself() error { return v.memberForm() }
