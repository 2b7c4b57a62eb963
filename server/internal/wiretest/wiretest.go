// Package wiretest stands between a server and its PostgreSQL, for tests: it hears every statement with its parameters
// and may send another text in its place. The server knows nothing of it, so that what is tested is what serves.
//
// It speaks the extended query protocol of PostgreSQL 3.0 (manual, chapter 55) as far as a statement's way needs:
// Parse and Bind are read, everything else passes.
package wiretest

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// Statement is one that a server had carried out.
type Statement struct {
	Text string
	Args []any // strings as they went over the wire; nil is NULL
	// Business is that of the transaction, by its last set_config('vernation.business', $1, true); "" is none.
	Business string
}

// Wire says what happens to statements; nil leaves a part out.
type Wire struct {
	// Rewrite returns the text that the database gets.
	Rewrite func(text string) string
	// Heard is told each statement as it was sent, by one connection at a time.
	Heard func(Statement)

	mutex sync.Mutex
}

// Listen stands before the database of an address over a unix socket and returns the address of its own. It ends with
// the test.
func (w *Wire) Listen(t testing.TB, address string) string {
	t.Helper()
	parsed, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	query := parsed.Query()
	socket := func(folder string) string { return filepath.Join(folder, ".s.PGSQL."+query.Get("port")) }
	behind := socket(query.Get("host"))
	folder, err := os.MkdirTemp("", "wire-") // t.TempDir may be too long for a socket's name
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("unix", socket(folder))
	if err != nil {
		t.Fatal(err)
	}
	var open sync.WaitGroup
	open.Go(func() {
		for {
			server, err := listener.Accept()
			if err != nil {
				return // closed
			}
			open.Go(func() { w.join(t, server, behind) })
		}
	})
	t.Cleanup(func() {
		listener.Close()
		open.Wait()
		os.RemoveAll(folder)
	})
	query.Set("host", folder)
	parsed.RawQuery = query.Encode()
	return parsed.String()
}

// join passes on between a server and its database until either goes.
func (w *Wire) join(t testing.TB, server net.Conn, behind string) {
	defer server.Close()
	database, err := net.Dial("unix", behind)
	if err != nil {
		return // the server is told by the end of its connection
	}
	defer database.Close()
	var back sync.WaitGroup
	back.Go(func() {
		_, _ = io.Copy(server, database) // ends when either goes
		server.Close()
	})
	c := connection{wire: w, texts: map[string]string{}}
	if err := c.pass(server, database); err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, net.ErrClosed) && !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Logf("a connection to the database ended: %v", err)
	}
	database.Close()
	back.Wait()
}

// connection is what is known of one.
type connection struct {
	wire     *Wire
	texts    map[string]string // by the statement's name
	business string
}

// mostBytes bounds a message: far above what a request may hold.
const mostBytes = 64 << 20

// pass reads messages of a server and passes them on.
func (c *connection) pass(server io.Reader, database io.Writer) error {
	kind := []byte{0}
	for first := true; ; first = false {
		if !first { // the first message has no kind
			if _, err := io.ReadFull(server, kind); err != nil {
				return err
			}
		}
		var length uint32
		if err := binary.Read(server, binary.BigEndian, &length); err != nil {
			return err
		}
		if length < 4 || length > mostBytes {
			return fmt.Errorf("a message of %d bytes", length)
		}
		body := make([]byte, length-4)
		if _, err := io.ReadFull(server, body); err != nil {
			return err
		}
		var message bytes.Buffer
		if !first {
			message.WriteByte(kind[0])
			body = c.read(kind[0], body)
		}
		message.Write(binary.BigEndian.AppendUint32(nil, uint32(len(body)+4)))
		message.Write(body)
		if _, err := database.Write(message.Bytes()); err != nil {
			return err
		}
	}
}

// read hears a message and returns what is passed on in its place.
func (c *connection) read(kind byte, body []byte) []byte {
	switch kind {
	case 'P':
		name, text, rest := cut(body)
		c.texts[name] = text
		if c.wire.Rewrite != nil {
			text = c.wire.Rewrite(text)
		}
		return append([]byte(name+"\x00"+text+"\x00"), rest...)
	case 'B':
		_, name, rest := cut(body)
		c.hear(c.texts[name], arguments(rest))
	}
	return body
}

// cut returns the two texts that a message begins with, and what follows.
func cut(body []byte) (first, second string, rest []byte) {
	one, rest, _ := bytes.Cut(body, []byte{0})
	two, rest, _ := bytes.Cut(rest, []byte{0})
	return string(one), string(two), rest
}

// arguments reads the parameters of a Bind: their formats, then each with its length.
func arguments(rest []byte) []any {
	number := func() int {
		value := int(int16(binary.BigEndian.Uint16(rest)))
		rest = rest[2:]
		return value
	}
	for range number() { // formats; a text and a binary text are the same bytes
		number()
	}
	args := make([]any, number())
	for i := range args {
		length := int32(binary.BigEndian.Uint32(rest))
		rest = rest[4:]
		if length >= 0 {
			args[i] = string(rest[:length])
			rest = rest[length:]
		}
	}
	return args
}

// hear tells of a statement.
func (c *connection) hear(text string, args []any) {
	if strings.Contains(text, "set_config('vernation.business'") && len(args) == 1 {
		c.business, _ = args[0].(string)
	}
	if c.wire.Heard == nil {
		return
	}
	c.wire.mutex.Lock()
	defer c.wire.mutex.Unlock()
	c.wire.Heard(Statement{Text: text, Args: args, Business: c.business})
}
