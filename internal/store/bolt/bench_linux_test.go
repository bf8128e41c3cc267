package bolt_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"syscall"
	"testing"

	"go.etcd.io/bbolt"

	"gritward/internal/store"
)

// recordBytes is about the size of a ride's record.
const recordBytes = 1500

func benchKey(i int) string { return fmt.Sprintf("ride/%06d", i%benchKeys) }

// benchKeys is how many records there are.
const benchKeys = 2000

// BenchmarkUpdate writes one record a transaction, over an old one. Beside it stand bbolt alone with the same keys and
// bytes, and what no store can beat: the bytes over old ones in a file of fixed size, and one fdatasync.
func BenchmarkUpdate(b *testing.B) {
	data := make([]byte, recordBytes)
	b.Run("store", func(b *testing.B) {
		s := benchStore(b)
		for i := 0; b.Loop(); i++ {
			if err := put(s, benchKey(i), data); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("bbolt alone", func(b *testing.B) {
		db, err := bbolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, nil)
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = db.Close() })
		write := func(from, to int) error {
			return db.Update(func(tx *bbolt.Tx) error {
				bucket, err := tx.CreateBucketIfNotExists([]byte("moor"))
				for i := from; i < to && err == nil; i++ {
					err = bucket.Put([]byte(benchKey(i)), data)
				}
				return err
			})
		}
		if err := write(0, benchKeys); err != nil {
			b.Fatal(err)
		}
		for i := 0; b.Loop(); i++ {
			if err := write(i, i+1); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("fdatasync alone", func(b *testing.B) {
		file, err := os.Create(filepath.Join(b.TempDir(), "bare"))
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = file.Close() })
		if _, err := file.Write(make([]byte, benchKeys*recordBytes)); err != nil {
			b.Fatal(err)
		}
		for i := 0; b.Loop(); i++ {
			if _, err := file.WriteAt(data, int64(i%benchKeys)*recordBytes); err != nil {
				b.Fatal(err)
			}
			if err := syscall.Fdatasync(int(file.Fd())); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// benchStore is a store with all the records.
func benchStore(b *testing.B) store.Store {
	b.Helper()
	s := opened(b, filepath.Join(b.TempDir(), "club.db"))
	b.Cleanup(func() { _ = s.Close() })
	if err := s.Update(context.Background(), "moor", func(tx store.Tx) (err error) {
		for i := 0; i < benchKeys && err == nil; i++ {
			err = tx.Put(benchKey(i), make([]byte, recordBytes))
		}
		return err
	}); err != nil {
		b.Fatal(err)
	}
	return s
}

// BenchmarkUpdateUnchanged is an Update that finds nothing to do: no write to the disk.
func BenchmarkUpdateUnchanged(b *testing.B) {
	s := benchStore(b)
	for b.Loop() {
		if err := s.Update(context.Background(), "moor", func(store.Tx) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRead reads one record a transaction, and scans all of them both ways.
func BenchmarkRead(b *testing.B) {
	s := benchStore(b)
	b.Run("one record", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			if value, err := get(s, benchKey(i%benchKeys)); err != nil || len(value) != recordBytes {
				b.Fatal(err)
			}
		}
	})
	for name, scan := range map[string]func(store.Tx, store.Visit) error{
		"all up":   func(tx store.Tx, visit store.Visit) error { return tx.Scan("ride/", "", visit) },
		"all down": func(tx store.Tx, visit store.Visit) error { return tx.ScanDown("ride/", "", visit) },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				visits := 0
				err := s.View(context.Background(), "moor", func(tx store.Tx) error {
					return scan(tx, func(string, []byte) (bool, error) { visits++; return true, nil })
				})
				if err != nil || visits != benchKeys {
					b.Fatal(visits, err)
				}
			}
		})
	}
}

// BenchmarkGroup is BenchmarkUpdate with 256 writers at once. Beside it stands a bare group commit: one goroutine that puts
// whatever waits into one transaction of bbolt's.
func BenchmarkGroup(b *testing.B) {
	const writers = 256
	data := make([]byte, recordBytes)
	b.Run("store", func(b *testing.B) {
		s := benchStore(b)
		var next atomic.Int64
		b.SetParallelism(writers / runtime.GOMAXPROCS(0))
		b.RunParallel(func(pb *testing.PB) {
			for pb.Next() {
				if err := put(s, benchKey(int(next.Add(1))), data); err != nil {
					b.Error(err)
				}
			}
		})
	})
	b.Run("bbolt alone", func(b *testing.B) {
		db, err := bbolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, nil)
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = db.Close() })
		type write struct {
			key  string
			done chan error
		}
		line := make(chan write, writers)
		b.Cleanup(func() { close(line) })
		go func() {
			for first := range line {
				batch := []write{first}
				for more := true; more; {
					select {
					case one := <-line:
						batch = append(batch, one)
					default:
						more = false
					}
				}
				err := db.Update(func(tx *bbolt.Tx) error {
					bucket, err := tx.CreateBucketIfNotExists([]byte("moor"))
					for _, one := range batch {
						if err == nil {
							err = bucket.Put([]byte(one.key), data)
						}
					}
					return err
				})
				for _, one := range batch {
					one.done <- err
				}
			}
		}()
		var next atomic.Int64
		b.SetParallelism(writers / runtime.GOMAXPROCS(0))
		b.RunParallel(func(pb *testing.PB) {
			done := make(chan error, 1)
			for pb.Next() {
				line <- write{benchKey(int(next.Add(1))), done}
				if err := <-done; err != nil {
					b.Error(err)
				}
			}
		})
	})
}
