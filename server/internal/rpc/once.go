package rpc

import (
	"context"
	"crypto/sha256"
	"fmt"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"vernation/server/internal/store"
)

// Repeatable is a request that carries a request id, so that sending it again is safe.
type Repeatable interface {
	proto.Message
	GetRequestId() string
}

// Memory keeps the answers of the deeds of one caller; *store.Tx is one, so that the answer is kept in the
// transaction of the deed itself: both stand or neither does.
type Memory interface {
	// Remembered gives the answer to the same request; a fault when its id was used with another body.
	Remembered(method, requestID string, hash []byte) (answer []byte, found bool, err error)
	Remember(method, requestID string, hash, answer []byte) error
}

// Once does a deed and remembers its answer under the request's id, or gives the first answer again. A request
// without an id is done each time.
func Once[A proto.Message](ctx context.Context, memory Memory, request Repeatable, deed func() (A, error)) (A, error) {
	var none A
	id := request.GetRequestId()
	if id == "" {
		return deed()
	}
	method, ok := grpc.Method(ctx)
	if !ok {
		panic("Once outside of a call: there is no method to remember the answer under")
	}
	body, err := proto.MarshalOptions{Deterministic: true}.Marshal(request)
	if err != nil {
		return none, fmt.Errorf("hash the request: %w", err)
	}
	hash := sha256.Sum256(body)
	kept, found, err := memory.Remembered(method, id, hash[:])
	if err != nil {
		return none, err
	}
	if found {
		first := none.ProtoReflect().New().Interface().(A)
		if err := proto.Unmarshal(kept, first); err != nil {
			return none, fmt.Errorf("read the answer kept for request %s: %w", id, err)
		}
		return first, nil
	}
	answer, err := deed()
	if err != nil {
		return none, err
	}
	if kept, err = proto.Marshal(answer); err != nil {
		return none, fmt.Errorf("keep the answer to request %s: %w", id, err)
	}
	return answer, memory.Remember(method, id, hash[:], kept)
}

// Deed runs one deed of the firm in one transaction of its caller, once for each request id.
func Deed[A proto.Message](ctx context.Context, kept *store.Store, request Repeatable, do func(*store.Tx) (A, error)) (A, error) {
	var answer A
	err := kept.In(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
		answer, err = Once(ctx, tx, request, func() (A, error) { return do(tx) })
		return err
	})
	return answer, err
}

// Look answers a question in one read-only transaction of its caller.
func Look[A proto.Message](ctx context.Context, kept *store.Store, do func(*store.Tx) (A, error)) (A, error) {
	var answer A
	err := kept.Reading(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
		answer, err = do(tx)
		return err
	})
	return answer, err
}
