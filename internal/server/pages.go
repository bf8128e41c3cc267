package server

import (
	"strconv"

	"gritward/internal/fault"
	"gritward/internal/names"
)

// pageSize is how many records go on a page.
func pageSize(asked int32) int {
	if asked == 0 {
		return 100
	}
	return int(asked)
}

// named is a record that has a name.
type named interface{ GetName() string }

// pageByNumber reads a page of records whose names end in a number, in the order of these. scan visits at most limit of
// those after a number. next is where to go on; "" at the end.
func pageByNumber[T named](token string, asked int32, scan func(after, limit int, visit func(T) error) error) (page []T, next string, err error) {
	after := 0
	if token != "" {
		if after, err = strconv.Atoi(token); err != nil || after < 0 {
			return nil, "", badToken()
		}
	}
	size := pageSize(asked)
	err = scan(after, size+1, func(record T) error {
		if len(page) == size {
			next = names.Last(page[size-1].GetName())
			return nil
		}
		page = append(page, record)
		return nil
	})
	return page, next, err
}

func badToken() error {
	return fault.Invalid("page_token", "is not one that came with a page; leave it out to begin again")
}
