package settings

import (
	"net/mail"
	"os"
	"strings"

	"github.com/spf13/pflag"
)

// mailFlags adds the flags that say who takes e-mail to members.
func mailFlags(flags *pflag.FlagSet) {
	flags.String("smtp-server", "", "mail server that takes e-mail to members, host:port (default none)")
	flags.String("smtp-security", "", "starttls, tls, or none for a mail server on this machine (default starttls)")
	flags.String("smtp-from", "", "sender of e-mail, for example \"Club name <rides@club.example>\"")
	flags.String("smtp-user", "", "who signs in to the mail server (default nobody)")
	flags.String("smtp-password-file", "", "file with the password, readable by its owner only")
	flags.Duration("smtp-timeout", 0, "how long to wait for the mail server at each step (default 20s)")
}

// maxPassword is the longest password, in bytes: more than any has.
const maxPassword = 1000

// wrongMail says what is wrong with the settings of the mail server.
func (m merged) wrongMail(s Server) Problems {
	problems := append(m.within("smtp_timeout", s.SMTPTimeout), m.oneOf("smtp_security", s.SMTPSecurity, "starttls", "tls", "none")...)
	if (s.SMTPUser == "") != (s.SMTPPasswordFile == "") {
		problems = append(problems, m.problem("smtp_user", "smtp_user and smtp_password_file go together: give both or none"))
	}
	if s.SMTPServer == "" {
		if s.SMTPFrom != "" || s.SMTPUser != "" {
			problems = append(problems, m.problem("smtp_server", "is missing: name the mail server, host:port, or take smtp_from and smtp_user out"))
		}
		return problems
	}
	if what := wrongAddress(s.SMTPServer, false); what != "" {
		problems = append(problems, m.problem("smtp_server", "%s", what))
	} else if s.SMTPSecurity == "none" && !IsLoopback(s.SMTPServer) {
		problems = append(problems, m.problem("smtp_security", "none would send names and addresses in plain text to %s; write starttls or tls", s.SMTPServer))
	}
	if _, err := mail.ParseAddress(s.SMTPFrom); err != nil {
		problems = append(problems, m.problem("smtp_from", "must be the address of a sender: \"Club name <rides@club.example>\""))
	}
	return problems
}

// readPassword reads the password for the mail server out of its file.
func (m merged) readPassword(s *Server) Problems {
	if s.SMTPPasswordFile == "" {
		return nil
	}
	info, err := os.Stat(s.SMTPPasswordFile)
	if err == nil && info.Mode().Perm()&0o077 != 0 {
		return Problems{m.problem("smtp_password_file", "%s can be read by others: chmod 600 %s", s.SMTPPasswordFile, s.SMTPPasswordFile)}
	}
	if err == nil && (!info.Mode().IsRegular() || info.Size() > maxPassword) {
		return Problems{m.problem("smtp_password_file", "%s is not a file with a password in it", s.SMTPPasswordFile)}
	}
	var content []byte
	if err == nil {
		content, err = os.ReadFile(s.SMTPPasswordFile)
	}
	if err != nil {
		return Problems{m.problem("smtp_password_file", "%s cannot be read: %s", s.SMTPPasswordFile, cause(err))}
	}
	s.SMTPPassword = Secret(strings.TrimRight(string(content), "\r\n"))
	if s.SMTPPassword == "" {
		return Problems{m.problem("smtp_password_file", "%s is empty", s.SMTPPasswordFile)}
	}
	return nil
}
