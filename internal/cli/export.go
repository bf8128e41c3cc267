package cli

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/encoding/protojson"

	"gritward/internal/phrase"
	"gritward/internal/wholefile"
	pb "gritward/proto/gritward/v1"
)

// maxExportBytes is the largest archive taken.
const maxExportBytes = 64 << 20

func (a *app) export() *cobra.Command {
	cmd := &cobra.Command{
		Use: "export FILE", Short: "Everything that the club keeps about you, as a zip archive",
		Long: "Writes everything that the club keeps about you into a zip archive, readable by you alone. READ-ME.txt in it says what\n" +
			"is there and what is not. Whom to call about you, where you named somebody, is in it in plain: keep it where nobody else\n" +
			"reads it.",
		Example: "  gritward export about-me.zip", Args: cobra.ExactArgs(1),
	}
	overwrite := cmd.Flags().Bool("overwrite", false, "write over a file that is there")
	return a.online(cmd, func(s *session, args []string) error {
		path := args[0]
		if _, err := os.Lstat(path); err == nil && !*overwrite {
			return thereAlready(path)
		}
		who, err := s.me()
		if err != nil {
			return err
		}
		content, err := s.exported(who.GetMember().GetName())
		if err != nil {
			return err
		}
		put := wholefile.Create
		if *overwrite {
			put = wholefile.Write
		}
		if err := put(path, content); errors.Is(err, fs.ErrExist) {
			return thereAlready(path)
		} else if err != nil {
			return err
		}
		return a.answerJSON(struct {
			File  string `json:"file"`
			Bytes int    `json:"bytes"`
		}{path, len(content)}, func(p *page) {
			p.line("Wrote %s, %d KiB. %s", path, (len(content)+1023)/1024, phrase.Sentence(inConfidence(content)+"keep it where nobody else reads it."))
		})
	})
}

// inConfidence names what in an archive others must not read most of all; "" where it holds nothing of the kind.
func inConfidence(archive []byte) string {
	contacts := &pb.EmergencyContacts{}
	opened, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		return ""
	}
	text, err := fs.ReadFile(opened, "contacts.json")
	if err != nil || (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(text, contacts) != nil {
		return ""
	}
	var holds []string
	if len(contacts.GetCall()) > 0 {
		holds = append(holds, "whom to call about you")
	}
	if contacts.GetMedicalNote() != "" {
		holds = append(holds, "what a first-aider should know")
	}
	return phrase.Between("it holds ", phrase.List(holds), ": ")
}

func thereAlready(path string) error {
	return fmt.Errorf("%s: there is such a file already\n  next: name another, or write over it with --overwrite", path)
}

// exported reads the archive, piece by piece, until it is whole.
func (s *session) exported(member string) ([]byte, error) {
	defer s.progress("exporting")()
	ctx, cancel := context.WithTimeout(s.ctx, s.timeout)
	defer cancel()
	stream, err := s.personal.ExportMember(ctx, &pb.ExportMemberRequest{Name: member})
	if err != nil {
		return nil, err
	}
	var content []byte
	for total := int64(0); ; {
		piece, err := stream.Recv()
		if errors.Is(err, io.EOF) && int64(len(content)) == total && total > 0 {
			return content, nil
		}
		if errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("the archive was cut short: %d of %d bytes; run it again", len(content), total)
		}
		if err != nil {
			return nil, err
		}
		if content, total = append(content, piece.GetData()...), piece.GetTotalBytes(); len(content) > maxExportBytes {
			return nil, fmt.Errorf("the archive is larger than %d MiB, which is the most that is taken", maxExportBytes>>20)
		}
	}
}
