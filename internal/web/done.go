package web

// done says what a form did, on the page that comes after it, by the word that leads there. A page shows nothing that
// an address says: only the words here.
var done = map[string]string{
	"joined": "You are signed in on this device.",

	"member-changed":  "It is kept.",
	"suspended":       "The member is suspended, and every device refused.",
	"reinstated":      "The member is let in again, from every device as before.",
	"device-shut":     "The device is shut out.",
	"withdrawn":       "The invite is withdrawn; its code is not good any more.",
	"policy-adopted":  "The policy is adopted.",
	"incident-kept":   "It is written down.",
	"incident-added":  "It is added to the record.",
	"incident-marked": "It is written down how it stands with the insurer.",

	"marked":            "It is marked.",
	"closed":            "The roll call is closed.",
	"reopened":          "The roll call is open again.",
	"putback":           "The start is put back. No new issue of the roster is published.",
	"putback-published": "The start is put back, and the next issue of the roster is published.",

	"certified":  "Certified. Thank you.",
	"retired":    "The bike is out of use.",
	"recorded":   "Recorded.",
	"struck":     "Struck out. It counts for nothing now.",
	"signed-up":  "You are signed up.",
	"waiting":    "All places are taken: you wait for one.",
	"signed-off": "You have withdrawn.",
	"changed":    "Kept.",
	"shut-out":   "The device is shut out.",
	"contacts":   "Kept. Only those who lead a ride that you are on can read it.",
	"erased":     "Everything about the member is erased.",
	"unshared":   "The link to the roster opens nothing any more.",

	"entered":           "The sign-up stands.",
	"ride-made":         "The ride is made. Members can sign up.",
	"ride-changed":      "The ride is changed.",
	"ride-same":         "Nothing was changed.",
	"route-changed":     "The ride is changed. Its forecast was for the route before, and is taken out: read another.",
	"forecast-read":     "The forecast is read.",
	"forecast-dropped":  "The forecast is taken out.",
	"called-off":        "The ride is called off.",
	"guest-entered":     "The guest is signed up, and you certified the bike.",
	"signup-withdrawn":  "The sign-up is withdrawn.",
	"pinned":            "It is fixed. Look at the placement, then publish.",
	"unpinned":          "It is free again.",
	"published":         "The roster is published.",
	"published-already": "This issue is published already. Nothing was published again.",
	"reason-given":      "The reason is written down.",
}
