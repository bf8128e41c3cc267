package ledger

import (
	"context"
	"fmt"
	"strconv"
	"strings"

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

// SaveLetter writes a letter, and keeps the queue of those that are still to be sent.
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
	if err := t.save("letter/"+key, letter); err != nil {
		return err
	}
	if letter.State == pb.Letter_QUEUED {
		return t.tx.Put("queue/"+key, nil)
	}
	return t.tx.Delete("queue/" + key)
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

// Queue reads all letters that are still to be sent.
func (t *Tx) Queue() (letters []*pb.Letter, err error) {
	var keys []string
	err = t.tx.Scan("queue/", "", func(key string, _ []byte) (bool, error) {
		keys = append(keys, strings.TrimPrefix(key, "queue/"))
		return true, nil
	})
	for _, key := range keys {
		if err != nil {
			break
		}
		var letter *pb.Letter
		letter, err = load(t, "letter/"+key, key, &pb.Letter{})
		letters = append(letters, letter)
	}
	return letters, err
}

// WatchQueue tells that there may be a letter to send; see Watch of store.Store.
func (l *Ledger) WatchQueue(ctx context.Context, club string) (<-chan struct{}, error) {
	return l.store.Watch(ctx, club, "queue/")
}

func letterKey(ride, number string) (string, error) {
	n, err := strconv.ParseInt(number, 10, 32)
	if err != nil || n < 1 {
		return "", fmt.Errorf("ledger: %.40q is not the number of a letter", number)
	}
	return fmt.Sprintf("%s/%08d", ride, n), nil
}
