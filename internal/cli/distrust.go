package cli

import (
	"fmt"
	"strings"

	"gritward/internal/settings"
	"gritward/internal/transport"
)

// distrust says why the server was not trusted, and what to do.
func (a *app) distrust(r *transport.Refusal) string {
	return "gritward: the server at " + clean(a.server) + " is not trusted, and nothing was sent to it: " + clean(r.What) + "\n  next: " +
		a.nextAfter(r.Kind) + "\n"
}

func (a *app) nextAfter(kind transport.Kind) string {
	switch {
	case kind == transport.OtherAuthority && a.cmd.Name() == "accept":
		return "see that the invite is whole, or ask the secretary for a new one; if a new one is refused too, somebody may stand between you and the server"
	case kind == transport.OtherAuthority:
		return "if your club has changed the server's authority, ask the secretary for a code for a further device of yours " +
			"(gritward member invite --device-for MEMBER), then gritward accept CODE --replace; if it has not, tell the secretary: " +
			"somebody may stand between you and the server"
	case kind == transport.UnknownAuthority:
		return "paste the whole invite if it was cut short, name the certificate of the authority to trust with --ca-file, or check --server"
	case kind == transport.OutOfTime:
		return "see that the clock of this device is right; if it is, tell whoever runs the server"
	case kind == transport.OtherName:
		return "give a name or address that it is for with --server, or have whoever runs the server add this one to public_addresses"
	}
	return "tell whoever runs the server"
}

// hear keeps the pins of the server's authority when the server tells of a change, so that the change goes unnoticed. err
// is what came of the command.
func (s *session) hear(err error) {
	if s.set.ServerPins == "" || err != nil && !answered(err) {
		return
	}
	who, err := s.me()
	if err != nil || len(who.GetServerPins()) == 0 {
		return // the command's own answer counts
	}
	if err := settings.KeepPins(s.settingsPath(), s.set.ServerPins, who.GetServerPins()); err != nil {
		fmt.Fprintf(s.io.Err, "Note: the server changes its authority, and this device could not keep the new pin: %s\n", clean(err.Error()))
	}
}

// answered tells whether an error is the server's own answer.
func answered(err error) bool {
	made, ok := grpcStatus(err)
	return ok && reasonOf(made) != 0
}

// settingsPath is the settings file that is written to.
func (a *app) settingsPath() string {
	if a.settingsFile != "" {
		return a.settingsFile
	}
	return settings.ClientFile()
}

// pinsOf joins pins as the settings have them.
func pinsOf(pins []transport.Pin) string { return strings.Join(transport.PinWords(pins), ",") }
