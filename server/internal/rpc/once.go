package rpc

import (
	"context"
	"crypto/sha256"
	"fmt"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"vernation/server/internal/planning"
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
	first, found, err := recalled[A](ctx, memory, request)
	if err != nil || found {
		return first, err
	}
	answer, err := deed()
	if err != nil {
		return none, err
	}
	kept, err := proto.Marshal(answer)
	if err != nil {
		return none, fmt.Errorf("keep the answer to request %s: %w", id, err)
	}
	method, hash := remembered(ctx, request)
	return answer, memory.Remember(method, id, hash, kept)
}

// recalled gives the first answer to a request that has an id; found is false for a new one.
func recalled[A proto.Message](ctx context.Context, memory Memory, request Repeatable) (first A, found bool, err error) {
	method, hash := remembered(ctx, request)
	kept, found, err := memory.Remembered(method, request.GetRequestId(), hash)
	if err != nil || !found {
		return first, false, err
	}
	answer := first.ProtoReflect().New().Interface().(A)
	if err := proto.Unmarshal(kept, answer); err != nil {
		return first, false, fmt.Errorf("read the answer kept for request %s: %w", request.GetRequestId(), err)
	}
	return answer, true, nil
}

// remembered is what an answer is remembered under beside the request's id: the method and the hash of the request.
func remembered(ctx context.Context, request Repeatable) (method string, hash []byte) {
	method, ok := grpc.Method(ctx)
	if !ok {
		panic("Once outside of a call: there is no method to remember the answer under")
	}
	body, err := proto.MarshalOptions{Deterministic: true}.Marshal(request)
	if err != nil {
		panic(fmt.Sprintf("a request that arrived cannot be written again: %v", err))
	}
	sum := sha256.Sum256(body)
	return method, sum[:]
}

// Deed runs one deed of the firm in one transaction of its caller, once for each request id. One that is only to be
// validated is done and taken back, and its id is not remembered.
func Deed[A proto.Message](ctx context.Context, kept *store.Store, request Repeatable, do func(*store.Tx) (A, error)) (A, error) {
	var answer A
	if only, ok := request.(interface{ GetValidateOnly() bool }); ok && only.GetValidateOnly() {
		err := kept.Rehearse(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
			answer, err = do(tx)
			return err
		})
		return answer, err
	}
	err := kept.In(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
		answer, err = Once(ctx, tx, request, func() (A, error) { return do(tx) })
		return err
	})
	return answer, err
}

// Judged runs a deed that reads and judges in transactions of its own before the one that changes something. What
// was answered before is answered again at once; in the last transaction the id is looked at first, under its lock, so
// that of two calls with one id only one is done. made turns what the deed made into its answer.
func Judged[R any, A proto.Message](ctx context.Context, kept *store.Store, request Repeatable, deed func(planning.Within[R]) error,
	made func(*store.Tx, R) (A, error)) (answer A, err error) {
	if request.GetRequestId() != "" {
		found := false
		err := kept.Reading(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
			answer, found, err = recalled[A](ctx, tx, request)
			return err
		})
		if err != nil || found {
			return answer, err
		}
	}
	err = deed(func(tx *store.Tx, do func() (R, error)) (err error) {
		answer, err = Once(ctx, tx, request, func() (A, error) {
			result, err := do()
			if err != nil {
				var none A
				return none, err
			}
			return made(tx, result)
		})
		return err
	})
	if err != nil {
		var none A
		return none, err
	}
	return answer, nil
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
