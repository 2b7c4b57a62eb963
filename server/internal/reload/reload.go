// Package reload answers: what do these files say now?
//
// Certificates and keys are renewed while a server runs. Their files are looked at now and then, by whoever asks for
// them, and read again when they were written; what cannot be read leaves the value before in force.
package reload

import (
	"fmt"
	"log/slog"
	"os"
	"slices"
	"sync"
	"time"
)

// Value is what some files say. It is safe for concurrent use.
type Value[T any] struct {
	read  func() (T, error)
	every time.Duration
	log   *slog.Logger
	paths []string

	mu      sync.Mutex
	value   T
	written []state // of the files, as far as they were read
	looked  time.Time
}

// state tells one writing of a file from the next.
type state struct {
	at   time.Time
	size int64
}

// Open reads the files and keeps what they say; read knows which. A nil log is nobody.
func Open[T any](read func() (T, error), every time.Duration, log *slog.Logger, paths ...string) (*Value[T], error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	v := &Value[T]{read: read, every: every, log: log, paths: paths}
	return v, v.again()
}

// Current is what the files say, as known for no longer than every.
func (v *Value[T]) Current() T {
	v.mu.Lock()
	defer v.mu.Unlock()
	if time.Since(v.looked) < v.every {
		return v.value
	}
	v.looked = time.Now()
	if states, err := v.states(); err == nil && slices.Equal(states, v.written) {
		return v.value
	}
	if err := v.again(); err != nil {
		v.log.Error("files that changed cannot be read; what they said before stays in force", "files", v.paths, "cause", err)
	} else {
		v.log.Info("files that changed were read again", "files", v.paths)
	}
	return v.value
}

// again reads the files. Their state is taken first: what is written meanwhile is read at the next look.
func (v *Value[T]) again() error {
	states, err := v.states()
	if err != nil {
		return err
	}
	value, err := v.read()
	if err != nil {
		return err
	}
	v.value, v.written, v.looked = value, states, time.Now()
	return nil
}

func (v *Value[T]) states() ([]state, error) {
	states := make([]state, len(v.paths))
	for i, path := range v.paths {
		info, err := os.Stat(path)
		if err != nil {
			return nil, fmt.Errorf("look at the files: %w", err)
		}
		states[i] = state{info.ModTime(), info.Size()}
	}
	return states, nil
}
