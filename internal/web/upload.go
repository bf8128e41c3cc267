package web

import (
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

const (
	// maxForm is the most that a form may bring, in bytes, beside its files.
	maxForm = 256 << 10
	// maxFile is the most that a file of a form may have: as a route may.
	maxFile = 16 << 20
	// maxFields is how many fields a form may have.
	maxFields = 2000
	// passed is how much of a file too large is read and thrown away, so that the rest of the form is read and the browser
	// listens to the answer.
	passed = 64 << 20
)

// upload is a file that came with a form. It lies in a temporary file for as long as its request.
type upload struct {
	// Field is what the form calls it, Name what it is called where it comes from.
	Field, Name string
	Size        int64
	kept        *os.File // nil where it is too large, or nobody is signed in
}

// read reads the form that came, if any. Files are kept for who is signed in.
func (v *visit) read(files bool) error {
	if v.r.Method != http.MethodPost {
		return nil
	}
	if !strings.HasPrefix(v.r.Header.Get("Content-Type"), "multipart/") {
		v.r.Body = http.MaxBytesReader(v.w, v.r.Body, maxForm)
		return unread(v.r.ParseForm())
	}
	most := int64(maxForm)
	if files {
		most += maxFile + passed
	}
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, most)
	v.r.PostForm = url.Values{}
	parts, err := v.r.MultipartReader()
	if err != nil {
		return unread(err)
	}
	left := int64(maxForm)
	for range maxFields {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = v.readPart(part, &left)
		}
		if err != nil {
			return unread(err)
		}
	}
	return fault.New(pb.Reason_MESSAGE_TOO_LARGE, "more fields were sent than are taken (%d at most)", maxFields)
}

// readPart reads one field, or one file, of a form.
func (v *visit) readPart(part *multipart.Part, left *int64) error {
	if part.FileName() != "" {
		return v.readFile(part)
	}
	value, err := io.ReadAll(io.LimitReader(part, *left+1))
	if err != nil {
		return err
	}
	if *left -= int64(len(value)); *left < 0 {
		return &http.MaxBytesError{Limit: maxForm}
	}
	if name := part.FormName(); name != "" && !isFile(part) {
		v.r.PostForm.Add(name, string(value))
	}
	return nil
}

// isFile tells whether a part is the place of a file where none was chosen: browsers send it with an empty name.
func isFile(part *multipart.Part) bool {
	return strings.Contains(part.Header.Get("Content-Disposition"), "filename=")
}

// readFile keeps a file, or as much of it as tells that it is too large.
func (v *visit) readFile(part *multipart.Part) error {
	made := &upload{Field: part.FormName(), Name: part.FileName()}
	v.uploads = append(v.uploads, made)
	if v.who == nil {
		_, err := io.Copy(io.Discard, part)
		return err
	}
	kept, err := os.CreateTemp("", "gritward-upload-*")
	if err != nil {
		return err
	}
	_ = os.Remove(kept.Name()) // it is gone as soon as it is closed
	made.kept = kept
	if made.Size, err = io.Copy(kept, io.LimitReader(part, maxFile+1)); err != nil {
		return err
	}
	if made.Size > maxFile {
		_ = kept.Close()
		made.kept = nil
		_, err = io.Copy(io.Discard, part)
	}
	return err
}

// unread says why a form could not be read.
func unread(err error) error {
	var large *http.MaxBytesError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &large):
		return fault.New(pb.Reason_MESSAGE_TOO_LARGE, "more was sent than is taken: %d kB at most beside a file, and %d MiB a file", maxForm>>10, maxFile>>20)
	}
	return fault.New(pb.Reason_FIELD_INVALID, "the form did not arrive whole; send it again")
}

// drop lets the files of a request go.
func (v *visit) drop() {
	for _, one := range v.uploads {
		if one.kept != nil {
			_ = one.kept.Close()
		}
	}
}

// file is a file that came with the form; nil when none was chosen. The error says that it is larger than so many bytes.
func (v *visit) file(field string, most int64) (*upload, error) {
	for _, one := range v.uploads {
		if one.Field != field {
			continue
		}
		if one.Size > most {
			return nil, &fault.Error{Reason: pb.Reason_MESSAGE_TOO_LARGE, Message: "the file is too large",
				Fields: []fault.Field{{Path: field, What: largest(most)}}}
		}
		return one, nil
	}
	return nil, nil
}

// largest says how large a file may be.
func largest(most int64) string {
	if most >= 1<<20 {
		return "at most " + strconv.FormatInt(most>>20, 10) + " MiB are taken: choose a smaller file"
	}
	return "at most " + strconv.FormatInt(most>>10, 10) + " kB are taken: choose a smaller file"
}

// Bytes is what the file has, once in memory.
func (u *upload) Bytes() ([]byte, error) {
	content := make([]byte, u.Size)
	_, err := u.kept.ReadAt(content, 0)
	if u.Size == 0 || errors.Is(err, io.EOF) {
		err = nil
	}
	return content, err
}

// Reader reads the file from its beginning.
func (u *upload) Reader() io.Reader { return io.NewSectionReader(u.kept, 0, u.Size) }
