package transport

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"gritward/internal/wholefile"
)

// Authority is a certificate authority of the server's own, kept in a folder: one file for the authority in use, and one
// for the next while a change is prepared. Several processes may use the folder at once; each file is whole at any time.
type Authority struct {
	folder string
	now    func() time.Time
}

// MakeAuthority opens the authority in a folder, and makes it where there is none yet.
func MakeAuthority(folder string, now func() time.Time) (*Authority, error) {
	a := &Authority{folder, now}
	if _, err := os.Stat(a.currentFile()); errors.Is(err, fs.ErrNotExist) {
		if _, err := a.create(a.currentFile()); err != nil && !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
	}
	_, err := a.read()
	return a, err
}

// OpenAuthority opens the authority in a folder that has one.
func OpenAuthority(folder string, now func() time.Time) (*Authority, error) {
	a := &Authority{folder, now}
	if _, err := os.Stat(a.currentFile()); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no authority in %s yet: the server makes it when it first starts", folder)
	}
	_, err := a.read()
	return a, err
}

func (a *Authority) currentFile() string { return filepath.Join(a.folder, "authority.pem") }
func (a *Authority) nextFile() string    { return filepath.Join(a.folder, "authority-next.pem") }

// create makes an authority in a file that is not there yet; fs.ErrExist when another process was first.
func (a *Authority) create(path string) (*signer, error) {
	made, err := newSigner(a.now())
	if err != nil {
		return nil, err
	}
	content, err := made.encode()
	if err != nil {
		return nil, err
	}
	return made, wholefile.Create(path, content)
}

// state is what the folder holds.
type state struct {
	current *signer
	// next is the authority that is to follow; nil while none is prepared.
	next *signer
	// prepared is when the next one was made.
	prepared time.Time
}

// Pins are those of the authority in use, and of the next one if it is prepared.
func (a *Authority) Pins() ([]Pin, error) {
	s, err := a.read()
	if err != nil {
		return nil, err
	}
	return s.pins(), nil
}

func (s *state) pins() []Pin {
	pins := []Pin{PinOf(s.current.cert)}
	if s.next != nil {
		pins = append(pins, PinOf(s.next.cert))
	}
	return pins
}

// Ends is when the certificate of the authority in use ends.
func (a *Authority) Ends() (time.Time, error) {
	s, err := a.read()
	if err != nil {
		return time.Time{}, err
	}
	return s.current.cert.NotAfter, nil
}

// read reads the folder. A switch puts the next file in place of the current one: read first, the next one can come out
// as the current one too, and is no next one then.
func (a *Authority) read() (*state, error) {
	next, err := readSigner(a.nextFile())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	current, err := readSigner(a.currentFile())
	if err != nil {
		return nil, err
	}
	s := &state{current: current}
	if next != nil && PinOf(next.cert) != PinOf(current.cert) {
		s.next, s.prepared = next, next.cert.NotBefore.Add(backdated)
	}
	return s, nil
}

// readSigner reads one authority, and refuses one whose key others can read.
func readSigner(path string) (*signer, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s holds the key of the server's authority, and others can read it (mode %04o): run chmod 600 on it; "+
			"if somebody may have read it, change the authority (gritwardd authority --help)", path, info.Mode().Perm())
	}
	content, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	read, err := decodeSigner(content)
	if err != nil {
		return nil, fmt.Errorf("%s is not an authority (%w): put back the file from a copy; a new one would lose every client", path, err)
	}
	return read, nil
}

// Told is what a person is told of an authority.
type Told struct {
	// Pin of its key.
	Pin string `json:"pin"`
	// Validity is of when its certificate is, "2006-01-02 to 2016-01-02".
	Validity string `json:"good"`
	// Prepared is when it was made; set for the next one.
	Prepared time.Time `json:"prepared,omitzero"`
}

// Show tells of the authority in use, and of the next one if it is prepared.
func (a *Authority) Show() (current Told, next *Told, err error) {
	s, err := a.read()
	if err != nil {
		return current, nil, err
	}
	current = Told{Pin: PinOf(s.current.cert).String(), Validity: validity(s.current.cert)}
	if s.next != nil {
		next = &Told{Pin: PinOf(s.next.cert).String(), Validity: validity(s.next.cert), Prepared: s.prepared}
	}
	return current, next, nil
}

// Prepare makes the next authority, whose pin clients are told from now on. One that is prepared already stays.
func (a *Authority) Prepare() (made bool, err error) {
	_, err = a.create(a.nextFile())
	if errors.Is(err, fs.ErrExist) {
		return false, nil
	}
	return err == nil, err
}

// errNotPrepared says that there is nothing to switch to.
var errNotPrepared = errors.New("no next authority is prepared: run gritwardd authority prepare, and let clients hear of it before you switch")

// heard is how long after it was prepared an authority is switched to unless told otherwise: a club that rides every week has
// used gritward by then. Common practice, no source.
const heard = 7 * 24 * time.Hour

// Switch puts the next authority in place of the current one, which is gone for good. Within seven days of preparing it does so only
// at once, at the price of devices that have not called yet.
func (a *Authority) Switch(atOnce bool) error {
	s, err := a.read()
	if err != nil {
		return err
	}
	if s.next == nil {
		return errNotPrepared
	}
	if from := s.prepared.Add(heard); !atOnce && a.now().Before(from) {
		return fmt.Errorf("the next authority was prepared on %s, and devices that have not called since would be shut out: "+
			"switch from %s on; or --at-once, if somebody may have the key", s.prepared.UTC().Format(time.DateOnly), from.UTC().Format("2006-01-02 15:04 UTC"))
	}
	return wholefile.Replace(a.currentFile(), a.nextFile())
}
