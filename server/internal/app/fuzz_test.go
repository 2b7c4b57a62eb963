package app_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"vernation/client"
	"vernation/server/internal/app"
	"vernation/server/internal/calltest"
	"vernation/server/internal/demo"
)

// raw sends bytes as they are, under the name of the usual codec, and reads answers as that does.
type raw struct{ encoding.CodecV2 }

func (r raw) Marshal(request any) (mem.BufferSlice, error) {
	if bytes, ok := request.([]byte); ok {
		return mem.BufferSlice{mem.SliceBuffer(bytes)}, nil
	}
	return r.CodecV2.Marshal(request)
}

// broken says whether an answer is none that a server may give, whatever it was asked.
func broken(err error) bool {
	switch status.Code(err) {
	case codes.Internal, codes.Unknown, codes.Unimplemented, codes.DataLoss, codes.Unavailable:
		return true
	}
	return false
}

// fuzzed is a server with somebody who may call each method.
type fuzzed struct {
	client  *client.Client
	methods []calltest.Method
	callers map[string]context.Context
}

func openFuzzed(f *testing.F) *fuzzed {
	f.Helper()
	a, c := openTold(f).serve(f, app.Config{})
	return &fuzzed{client: c, methods: calltest.Methods(), callers: contexts(f, a, people(string(demo.Business)))}
}

// method finds one by a number, with a caller who may call it.
func (f *fuzzed) method(number uint16) (calltest.Method, context.Context) {
	method := f.methods[int(number)%len(f.methods)]
	for _, who := range []string{"office", "applicator", "integration"} {
		caller := people(string(demo.Business))[who]
		if owed(method, &caller) == (refusal{}) {
			return method, f.callers[who]
		}
	}
	panic(fmt.Sprintf("nobody may call %s", method.Path()))
}

// Whatever bytes come as a request of any method: the server answers, and never by INTERNAL or UNKNOWN.
func FuzzBytesOfARequest(f *testing.F) {
	w := openFuzzed(f)
	m := maker(string(demo.Business), 3)
	for i, method := range w.methods {
		wire, err := proto.Marshal(m.Request(method))
		if err != nil && !strings.Contains(err.Error(), "UTF-8") {
			f.Fatal(err)
		}
		f.Add(uint16(i), wire)
		f.Add(uint16(i), wire[:len(wire)*2/3])
	}
	f.Add(uint16(0), []byte("\x0a\x02\xff\xfe"))
	codec := raw{encoding.GetCodecV2("proto")}
	f.Fuzz(func(t *testing.T, number uint16, wire []byte) {
		method, caller := w.method(number)
		answer := method.NewAnswer()
		ctx, cancel := context.WithCancel(caller)
		defer cancel()
		stream, err := w.client.Conn().NewStream(ctx, &grpc.StreamDesc{ServerStreams: method.IsStreamingServer()}, method.Path(), grpc.ForceCodecV2(codec))
		if err == nil {
			err = stream.SendMsg(wire)
		}
		if err == nil {
			err = stream.CloseSend()
		}
		if err == nil && !method.IsStreamingServer() {
			err = stream.RecvMsg(answer)
		}
		if broken(err) {
			t.Errorf("%s answers %v to %x", method.Path(), err, wire)
		}
	})
}

// Whatever a caller could plausibly ask of any method, drawn by a seed.
func FuzzPlausibleRequest(f *testing.F) {
	w := openFuzzed(f)
	for i := range w.methods {
		f.Add(uint16(i), uint64(i))
		f.Add(uint16(i), uint64(i)+1000)
	}
	f.Fuzz(func(t *testing.T, number uint16, seed uint64) {
		method, caller := w.method(number)
		m := maker(string(demo.Business), seed)
		m.Prefix, m.Rand = fmt.Sprintf("n%d-", seed), rand.New(rand.NewPCG(seed, uint64(number)))
		request := m.Request(method)
		if _, err := method.Call(caller, w.client.Conn(), request); broken(err) {
			t.Errorf("%s answers %v to %v", method.Path(), err, request)
		}
	})
}
