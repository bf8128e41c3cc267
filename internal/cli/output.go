package cli

import (
	"bytes"
	"encoding/json"
	"io"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
)

// answer prints the server's answer: as JSON when asked for, otherwise as lay writes it.
func (a *app) answer(message proto.Message, lay func(p *page)) error {
	if !a.json {
		return a.print(lay)
	}
	text, err := messageJSON(message)
	if err != nil {
		return err
	}
	_, err = a.io.Out.Write(text)
	return err
}

// answerJSON is answer for what is no message of the protocol.
func (a *app) answerJSON(value any, lay func(p *page)) error {
	if !a.json {
		return a.print(lay)
	}
	text, err := json.MarshalIndent(value, "", "  ")
	if err != nil {
		return err
	}
	_, err = a.io.Out.Write(append(text, '\n'))
	return err
}

func (a *app) print(lay func(p *page)) error {
	p := &page{colour: a.io.OutTerminal && !a.io.NoColour && !a.noColour, width: a.io.Width}
	lay(p)
	_, err := io.WriteString(a.io.Out, p.b.String())
	return err
}

// messageJSON is a message in the protocol's JSON with the field names of the protocol. protojson varies its white
// space on purpose, so it is laid out anew.
func messageJSON(message proto.Message) ([]byte, error) {
	raw, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(message)
	if err != nil {
		return nil, err
	}
	var laid bytes.Buffer
	if err := json.Indent(&laid, raw, "", "  "); err != nil {
		return nil, err
	}
	laid.WriteByte('\n')
	return laid.Bytes(), nil
}
