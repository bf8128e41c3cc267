package policy

import "time"

// DefaultContactsFor is how long after a ride is closed its riders' emergency contacts can be read, where no policy says
// otherwise. Common practice, no source.
const DefaultContactsFor = 6 * time.Hour

// ContactsFor is how long after a ride is closed its leaders can read the riders' emergency contacts.
func (p *Policy) ContactsFor() time.Duration {
	return orUsual(p.message.GetPrivacy().GetContactsFor(), DefaultContactsFor)
}

// How long personal data is kept where a policy does not say. Common practice, no source.
const (
	defaultRidesKept   = 730 * 24 * time.Hour
	defaultInvitesKept = 90 * 24 * time.Hour
	defaultDevicesKept = 365 * 24 * time.Hour
)

// RidesKept is how long after its start a ride is kept, at least 7 days.
func (p *Policy) RidesKept() time.Duration {
	return orUsual(p.message.GetPrivacy().GetRidesKept(), defaultRidesKept)
}

// InvitesKept is how long after it was used, was withdrawn or expired an invite is kept.
func (p *Policy) InvitesKept() time.Duration {
	return orUsual(p.message.GetPrivacy().GetInvitesKept(), defaultInvitesKept)
}

// DevicesKept is how long after it was shut out a device is kept.
func (p *Policy) DevicesKept() time.Duration {
	return orUsual(p.message.GetPrivacy().GetDevicesKept(), defaultDevicesKept)
}
