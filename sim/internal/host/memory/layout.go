package memory

import (
	"encoding/binary"
	"encoding/json"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"ridethrough/sim/internal/core/snap"
)

// format is the version of the layout; what is in the sections has rules of its
// own.
const format = "1"

var (
	metaBucket    = []byte("meta")
	formatKey     = []byte("format")
	cardsBucket   = []byte("cards")
	sectionBucket = []byte("sections")
	logsBucket    = []byte("logs")
	servedKey     = []byte("served") // there while a process serves the card
)

// lay makes the layout of an empty file.
func lay(tx *bolt.Tx) error {
	meta, err := tx.CreateBucketIfNotExists(metaBucket)
	if err != nil {
		return err
	}
	if err := meta.Put(formatKey, []byte(format)); err != nil {
		return err
	}
	_, err = tx.CreateBucketIfNotExists(cardsBucket)
	return err
}

// put makes the changes of k in the memory of one card.
func put(tx *bolt.Tx, serial string, k *snap.Keep) error {
	card, err := tx.Bucket(cardsBucket).CreateBucketIfNotExists([]byte(serial))
	if err != nil {
		return err
	}
	sections, err := card.CreateBucketIfNotExists(sectionBucket)
	if err != nil {
		return err
	}
	for name, value := range k.Sections {
		if err := putOrDrop(sections, name, value); err != nil {
			return err
		}
	}
	logs, err := card.CreateBucketIfNotExists(logsBucket)
	if err != nil {
		return err
	}
	for i := range k.Logs {
		if err := putLog(logs, &k.Logs[i]); err != nil {
			return err
		}
	}
	return nil
}

func putOrDrop(b *bolt.Bucket, name string, value json.RawMessage) error {
	if value == nil {
		return b.Delete([]byte(name))
	}
	return b.Put([]byte(name), value)
}

func putLog(logs *bolt.Bucket, k *snap.LogKeep) error {
	log, err := logs.CreateBucketIfNotExists([]byte(k.Name))
	if err != nil {
		return err
	}
	log.FillPercent = 0.9 // entries come in order
	for _, e := range k.Entries {
		if e.Seq < k.From {
			continue
		}
		if err := log.Put(seqKey(e.Seq), e.Value); err != nil {
			return err
		}
	}
	var gone [][]byte
	c := log.Cursor()
	for key, _ := c.First(); key != nil && seqOf(key) < k.From; key, _ = c.Next() {
		gone = append(gone, key)
	}
	for _, key := range gone {
		if err := log.Delete(key); err != nil {
			return err
		}
	}
	return nil
}

func seqKey(seq uint64) []byte { return binary.BigEndian.AppendUint64(nil, seq) }

func seqOf(key []byte) uint64 {
	if len(key) != 8 {
		return 0
	}
	return binary.BigEndian.Uint64(key)
}

// read is the memory of one card, nil if there is none.
func read(tx *bolt.Tx, serial string) (*snap.Memory, error) {
	card := tx.Bucket(cardsBucket).Bucket([]byte(serial))
	if card == nil {
		return nil, nil
	}
	m := &snap.Memory{
		Sections: map[string]json.RawMessage{}, Logs: map[string][]snap.LogEntry{},
		Cut: card.Get(servedKey) != nil,
	}
	if b := card.Bucket(sectionBucket); b != nil {
		err := b.ForEach(func(name, value []byte) error {
			m.Sections[string(name)] = append(json.RawMessage{}, value...)
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	logs := card.Bucket(logsBucket)
	if logs == nil {
		return m, nil
	}
	return m, logs.ForEachBucket(func(name []byte) error {
		return logs.Bucket(name).ForEach(func(key, value []byte) error {
			if len(key) != 8 {
				return fmt.Errorf("log %s: a key of %d octets, expected 8", name, len(key))
			}
			m.Logs[string(name)] = append(m.Logs[string(name)], snap.LogEntry{Seq: seqOf(key), Value: append(json.RawMessage{}, value...)})
			return nil
		})
	})
}

// mark notes for every card whether a process serves it.
func mark(tx *bolt.Tx, serial string, served bool) error {
	card, err := tx.Bucket(cardsBucket).CreateBucketIfNotExists([]byte(serial))
	if err != nil {
		return err
	}
	if !served {
		return card.Delete(servedKey)
	}
	return card.Put(servedKey, []byte{1})
}
