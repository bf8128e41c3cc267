package daemon

import (
	"log/slog"
	"strings"
	"time"

	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/transport"
)

// secured sets up how the way to clients is secured.
func secured(s settings.Server, log *slog.Logger) (*transport.Server, error) {
	return transport.NewServer(transport.Config{
		Way: s.Way(), CertFile: s.TLSCert, KeyFile: s.TLSKey, Folder: s.TLSFolder(), Hosts: s.Hosts(),
		ACME: transport.ACMEConfig{Directory: s.ACMEDirectory, Email: s.ACMEEmail, CAFile: s.ACMECAFile},
		Now:  time.Now, Log: log,
	})
}

// security says in words how the way is secured.
func security(s settings.Server, way *transport.Server) string {
	switch s.Way() {
	case transport.Own:
		return "TLS 1.3 by the server's own authority, pin " + strings.Join(transport.PinWords(way.Pins()), ", next ")
	case transport.Files:
		return "TLS 1.3 by " + s.TLSCert
	case transport.ACME:
		return "TLS 1.3 by ACME for " + strings.Join(s.Hosts(), ", ")
	}
	return "no TLS: for this machine only"
}

// entrance says how clients find a server that listens at an address, and know it.
func entrance(s settings.Server, way *transport.Server, listening string) server.Entrance {
	pins := func() []transport.Pin { return nil }
	made := server.Entrance{}
	if way.Pins != nil {
		pins = way.Pins
		made.Pins = func() []string { return transport.PinWords(pins()) }
	}
	if address := s.InviteAddress(listening); address != "" {
		made.Invite = func(code string) string {
			return transport.Invite{Address: address, Code: code, Pins: pins()}.String()
		}
	}
	return made
}

// handing gives what makes an invite of a code while no server runs. The server's own authority is made if it is not there
// yet, so that its pin can travel in the first invite.
func handing(s settings.Server) (func(code string) string, error) {
	invite := transport.Invite{Address: s.InviteAddress(s.Listen)}
	if s.Way() == transport.Own {
		authority, err := transport.MakeAuthority(s.TLSFolder(), time.Now)
		if err != nil {
			return nil, err
		}
		if invite.Pins, err = authority.Pins(); err != nil {
			return nil, err
		}
	}
	return func(code string) string {
		invite.Code = code
		return invite.String()
	}, nil
}
