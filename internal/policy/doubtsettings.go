package policy

import (
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// Limits beyond which a setting is contrary to the usual cautions.
const (
	// A declaration older than this says little of a bike in winter. Common practice, no source.
	maxDeclarationAge = 60 * 24 * time.Hour
	// Lighting-up time is half an hour after sunset (Road Vehicles Lighting Regulations 1989, reg 3).
	lightingUpAfterSunset = 30 * time.Minute
	// Civil dusk is 34 to 44 minutes after sunset at 45 to 54 degrees north in midwinter: the time the sun takes from an
	// altitude of -0.8333 degrees to -6.
	civilDuskAfterSunset = 45 * time.Minute
	// Lights must be used when visibility is seriously reduced, generally below 100 m (Highway Code 226).
	leastPoorVisibilityM = 100
	// From a wind chill of -28 C bare skin can freeze in 10 to 30 minutes (Environment and Climate Change Canada, wind
	// chill hazards; from memory).
	leastFeelsLikeC = -27
	// Longer than this after a ride nobody needs its riders' emergency contacts. Common practice, no source.
	mostContactsFor = 24 * time.Hour
	// Insurers ask for a report within days or a few weeks; a claim may come years after, and nothing is asked of a record
	// that is older than seven. All three common practice, no source.
	mostReportWithin   = 31 * 24 * time.Hour
	leastIncidentsKept = 365 * 24 * time.Hour
	mostIncidentsKept  = 7 * 366 * 24 * time.Hour
	// Kept longer, what is personal has outlived what it was kept for; rides kept shorter are no longer there to reckon times
	// with in the next winter. Common practice, no source.
	mostKept       = 1095 * 24 * time.Hour
	leastRidesKept = 365 * 24 * time.Hour
	// A storm, force 10 of the Beaufort scale, begins at 89 km/h.
	greatestGustKmh = 88
)

// doubtSettings warns of settings that leave a group without light, or believe a bike too long.
func (c *checker) doubtSettings() {
	dark := c.policy.GetDark()
	margin := dark.GetMargin().AsDuration()
	switch begins := dark.GetBegins(); {
	case begins == pb.Darkness_LIGHTING_UP && margin < lightingUpAfterSunset:
		c.lateDark("half an hour", lightingUpAfterSunset)
	case begins == pb.Darkness_CIVIL_DUSK && margin < civilDuskAfterSunset:
		c.lateDark("about three quarters of an hour", civilDuskAfterSunset)
	case margin == 0:
		c.warn("dark.margin", "there is no margin before dark", "a group that is late by one puncture is then without lights; write margin: 30m")
	}
	if c.policy.GetLights().GetReserve().AsDuration() == 0 {
		c.warn("lights.reserve", "lamps need not last longer than planned", "write reserve: 30m")
	}
	if below := c.policy.GetPoorVisibilityBelowM(); below < leastPoorVisibilityM {
		c.warn("poor_visibility_below", "lights would not be asked for though visibility is seriously reduced, below 100 m",
			"lights are the law then in many places (Highway Code 226 in Great Britain); write poor_visibility_below: 100m")
	}
	c.doubtAge("declaration.valid", c.policy.GetDeclaration().GetValid().AsDuration())
	c.doubtPrivacy()
	c.doubtIncidents()
}

// doubtIncidents warns where an insurer would hear too late, or records are deleted before anybody asks, or long after.
func (c *checker) doubtIncidents() {
	said := c.policy.GetIncidents()
	if within := said.GetReportWithin(); within != nil && within.AsDuration() > mostReportWithin {
		c.warn("incidents.report_within", "the reminder reckons with more than a month to report an incident",
			"most insurers want to hear far sooner; look into the terms of yours, and write for example report_within: 14d")
	}
	switch kept := said.GetKept(); {
	case kept == nil:
	case kept.AsDuration() < leastIncidentsKept:
		c.warn("incidents.kept", "records of incidents are deleted within a year", "a claim may come later; write kept: 1095d")
	case kept.AsDuration() > mostIncidentsKept:
		c.warn("incidents.kept", "records of incidents are kept for more than seven years", "they are personal data, and hardly asked for so late; write kept: 1095d")
	}
}

// doubtPrivacy warns where emergency contacts are shut when they are needed, or lie open long after.
func (c *checker) doubtPrivacy() {
	const path = "privacy.contacts_for"
	said := c.policy.GetPrivacy().GetContactsFor()
	switch {
	case said == nil:
	case said.AsDuration() == 0:
		c.warn(path, "emergency contacts are shut as soon as the ride is closed", "a rider may be missed or taken ill after that; write contacts_for: 6h")
	case said.AsDuration() > mostContactsFor:
		c.warn(path, "emergency contacts can be read for more than a day after the ride", "they are for the ride and the way home; write contacts_for: 6h")
	}
	kept := c.policy.GetPrivacy()
	c.doubtKept("privacy.rides_kept", "rides, with who rode where, are", "write rides_kept: 730d", kept.GetRidesKept())
	c.doubtKept("privacy.invites_kept", "invites that are used up are", "write invites_kept: 90d", kept.GetInvitesKept())
	c.doubtKept("privacy.devices_kept", "devices that were shut out are", "write devices_kept: 365d", kept.GetDevicesKept())
	if said := kept.GetRidesKept(); said != nil && said.AsDuration() < leastRidesKept {
		c.warn("privacy.rides_kept", "rides are kept for less than a year", "how long their groups took is gone with them, and next winter's plans go by the pace alone; write rides_kept: 730d")
	}
}

// doubtKept warns where personal data is kept for years.
func (c *checker) doubtKept(path, what, hint string, said *durationpb.Duration) {
	if said.AsDuration() > mostKept {
		c.warn(path, what+" kept for more than three years", "nobody needs them for so long; "+hint)
	}
}

// lateDark warns that lights are asked for only some time after sunset, which is told in words. margin reaches back.
func (c *checker) lateDark(after string, margin time.Duration) {
	c.warn("dark.begins", "dark begins "+after+" after sunset, and the margin does not reach back to sunset",
		"lights are the law from sunset in many places; write begins: sunset, or margin: "+strictyaml.FormatDuration(margin)+" or more")
}

func (c *checker) doubtAge(path string, valid time.Duration) {
	if valid > maxDeclarationAge {
		c.warn(path, "a declaration counts for more than 60 days", "chains, pads and lights change in a few weeks of winter; write valid: 28d")
	}
}

// doubtCallOff warns where nothing calls a ride off, or only weather that is dangerous long before.
func (c *checker) doubtCallOff() {
	off := c.policy.GetCallOff()
	if off == nil || off.FeelsLikeBelowC == nil && off.GustAboveKmh == nil && off.VisibilityBelowM == nil && off.GetIce() == 0 {
		c.warn("call_off", "there is no limit at which a ride should not start",
			"write for example  call_off: {feels_like_below: -8C, gust_above: 70km/h, visibility_below: 100m, ice: likely}")
		return
	}
	if off.FeelsLikeBelowC != nil && off.GetFeelsLikeBelowC() < leastFeelsLikeC {
		c.warn("call_off.feels_like_below", "rides would start in a cold that freezes bare skin within half an hour, below -27 C as it feels",
			"most clubs call off far above that; write for example feels_like_below: -8C")
	}
	if off.GustAboveKmh != nil && off.GetGustAboveKmh() > greatestGustKmh {
		c.warn("call_off.gust_above", "rides would start in gusts of a storm, 89 km/h and more", "a rider is blown off the line by far less; write for example gust_above: 70km/h")
	}
}
