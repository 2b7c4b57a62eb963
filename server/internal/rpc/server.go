package rpc

import (
	"fmt"
	"log/slog"
	"slices"
	"time"

	"buf.build/go/protovalidate"
	"google.golang.org/grpc"
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/keepalive"

	"vernation/server/internal/firm"
)

// Bounds of a connection.
const (
	receiveBytesMax  = 16 << 20 // a larger message is refused by the transport with RESOURCE_EXHAUSTED before it is read
	requestBytesMax  = 4 << 20  // a larger request is refused by us, with a sentence and a reason
	headerBytesMax   = 16 << 10 // metadata of one call: a token is some 400 bytes
	streamsMax       = 250      // calls at once on one connection
	idleFor          = 15 * time.Minute
	pingEvery        = time.Minute
	pingLeast        = 10 * time.Second // a client may ask no more often whether we are there
	connectionWithin = 20 * time.Second
	callWithin       = 2 * time.Minute // of a call without a nearer deadline; a search of openings is the longest
)

// Service registers the handler of one service of the contract; each <noun>_service.go exports one.
type Service func(grpc.ServiceRegistrar)

// Verifier reads who a token speaks for; *identity.Keys and *identity.File are such.
type Verifier interface {
	// Verify judges a token at an instant of the machine's clock; "" is none.
	Verify(token string, now time.Time) (firm.Caller, error)
}

// Frame is what stands around every handler.
type Frame struct {
	Keys  Verifier    // that tokens are judged by
	Ring  Ring        // of integration keys; nil where there are none
	Clock *firm.Clock // of rules that speak of now
	Log   *slog.Logger
	// CallsPerSecond bounds the calls of each credential; 0 bounds nothing.
	CallsPerSecond int
	// RowSecurityAlone leaves out the check that names are of the caller's business: for tests, which hold that the
	// database alone keeps businesses apart.
	RowSecurityAlone bool
	// Unary and Stream stand outside of everything, and see statuses as callers do; nil leaves them out.
	Unary  grpc.UnaryServerInterceptor
	Stream grpc.StreamServerInterceptor
}

type frame struct {
	keys      Verifier
	ring      Ring
	clock     *firm.Clock
	log       *slog.Logger
	pace      *pace
	unchecked bool // names are not held to the caller's business
	validator protovalidate.Validator
	rights    map[string]rights // by full method name
}

// NewServer makes a gRPC server with its services inside the frame. It panics on a contract that cannot be
// held: a method without roles, a stream of requests, a validation rule that does not compile.
func NewServer(around Frame, services []Service, options ...grpc.ServerOption) *grpc.Server {
	f := &frame{keys: around.Keys, ring: around.Ring, clock: around.Clock, log: around.Log, pace: newPace(around.CallsPerSecond), unchecked: around.RowSecurityAlone}
	server := grpc.NewServer(append(slices.Concat(outermost(around), []grpc.ServerOption{
		grpc.MaxRecvMsgSize(receiveBytesMax), grpc.MaxHeaderListSize(headerBytesMax), grpc.MaxConcurrentStreams(streamsMax),
		grpc.ConnectionTimeout(connectionWithin), grpc.ForceServerCodecV2(reading{encoding.GetCodecV2(proto.Name)}),
		grpc.KeepaliveParams(keepalive.ServerParameters{MaxConnectionIdle: idleFor, Time: pingEvery}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: pingLeast, PermitWithoutStream: true}),
		grpc.ChainUnaryInterceptor(f.logged, bounded, f.recovered, f.translated, f.admitted),
		grpc.ChainStreamInterceptor(f.loggedStream, f.recoveredStream, f.translatedStream, f.admittedStream),
	}), options...)...)
	for _, register := range services {
		register(server)
	}
	table, requests := rightsTable(server.GetServiceInfo())
	validator, err := protovalidate.New(protovalidate.WithMessageDescriptors(requests...))
	if err != nil {
		panic(fmt.Sprintf("the validation rules of the contract do not compile: %v", err))
	}
	f.rights, f.validator = table, validator
	return server
}

// outermost are the interceptors around all others.
func outermost(around Frame) (options []grpc.ServerOption) {
	if around.Unary != nil {
		options = append(options, grpc.ChainUnaryInterceptor(around.Unary))
	}
	if around.Stream != nil {
		options = append(options, grpc.ChainStreamInterceptor(around.Stream))
	}
	return options
}
