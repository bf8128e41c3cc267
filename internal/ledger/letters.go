package ledger

import (
	"fmt"
	"strconv"
	"strings"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddLetter queues a letter about a ride: it gets the next number and the time of the transaction.
func (t *Tx) AddLetter(ride string, letter *pb.Letter) error {
	number := 0
	err := eachDown(t, "letter/"+ride+"/", "", func() *pb.Letter { return &pb.Letter{} }, limited(1, func(last *pb.Letter) (err error) {
		number, err = strconv.Atoi(names.Last(last.Name))
		return err
	}))
	if err != nil {
		return err
	}
	letter.Name = names.Letter(t.Club, ride, number+1)
	letter.State, letter.QueuedAt, letter.NextTryAt = pb.Letter_QUEUED, t.Stamp(), t.Stamp()
	return t.SaveLetter(letter)
}

// SaveLetter writes a letter, and keeps on the agenda those that are still to be sent.
func (t *Tx) SaveLetter(letter *pb.Letter) error {
	ids, err := t.ids(letter.Name, names.LetterShape)
	if err != nil {
		return err
	}
	key, err := letterKey(ids[1], ids[2])
	if err != nil {
		return err
	}
	letter.DisplayName = ""
	before := ""
	if old, err := t.Letter(ids[1], ids[2]); err == nil {
		if before, err = letterDue(old); err != nil {
			return err
		}
	} else if !fault.Is(err, pb.Reason_NOT_FOUND) {
		return err
	}
	after, err := letterDue(letter)
	if err != nil {
		return err
	}
	if err := t.move(before, after); err != nil {
		return err
	}
	return t.save("letter/"+key, letter)
}

// Letter reads a letter by the ids of its ride and its own.
func (t *Tx) Letter(ride, number string) (*pb.Letter, error) {
	key, err := letterKey(ride, number)
	if err != nil {
		return nil, err
	}
	return load(t, "letter/"+key, names.Ride(t.Club, ride)+"/letters/"+number, &pb.Letter{})
}

// Letters visits the letters about a ride, oldest first.
func (t *Tx) Letters(ride string, visit func(*pb.Letter) error) error {
	return each(t, "letter/"+ride+"/", "", func() *pb.Letter { return &pb.Letter{} }, visit)
}

// Queue reads all letters that are still to be sent, in the order in which they are tried.
func (t *Tx) Queue() (letters []*pb.Letter, err error) {
	keys, err := t.keys(DueLetter.prefix())
	for _, key := range keys {
		if err != nil {
			break
		}
		_, key, _ = strings.Cut(strings.TrimPrefix(key, DueLetter.prefix()), "/")
		var letter *pb.Letter
		letter, err = load(t, "letter/"+key, key, &pb.Letter{})
		letters = append(letters, letter)
	}
	return letters, err
}

func letterKey(ride, number string) (string, error) {
	n, err := strconv.ParseInt(number, 10, 32)
	if err != nil || n < 1 {
		return "", fmt.Errorf("ledger: %.40q is not the number of a letter", number)
	}
	return fmt.Sprintf("%s/%08d", ride, n), nil
}
