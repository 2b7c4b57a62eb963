package identity

import (
	"log/slog"
	"time"

	"vernation/server/internal/firm"
	"vernation/server/internal/reload"
)

// File is a key file that may change while a server runs: a new key is put in beside the old ones, tokens are signed with
// it, and the old one is taken out once its last token has ended.
type File struct{ keys *reload.Value[*Keys] }

// OpenFile reads a key file. Changes count after so long; a file that cannot be read leaves the keys before in force.
func OpenFile(path string, expects Expects, every time.Duration, log *slog.Logger) (*File, error) {
	keys, err := reload.Open(func() (*Keys, error) {
		keys, err := LoadKeys(path)
		if err != nil {
			return nil, err
		}
		return keys.Expecting(expects), nil
	}, every, log, path)
	if err != nil {
		return nil, err
	}
	return &File{keys}, nil
}

// Current are the keys of the file now.
func (f *File) Current() *Keys { return f.keys.Current() }

// Verify reads who a token speaks for, as Keys.Verify does, by the keys of the file now.
func (f *File) Verify(token string, now time.Time) (firm.Caller, error) {
	return f.Current().Verify(token, now)
}
