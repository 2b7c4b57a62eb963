package rpc_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/rpc"
)

// streamHandler answers WatchDayRoutes by a function of the test.
type streamHandler struct {
	vernationv1.UnimplementedChangeServiceServer
	watch func(grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error
}

func (h *streamHandler) WatchDayRoutes(_ *vernationv1.WatchDayRoutesRequest, stream grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error {
	return h.watch(stream)
}

func streams(watch func(grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error) rpc.Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterChangeServiceServer(r, &streamHandler{watch: watch})
	}
}

func TestStreams_NothingOfTheInsideLeavesAndTheEndIsLogged(t *testing.T) {
	t.Parallel()
	const secret = "door code 4711"
	b := setup(t, streams(func(stream grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error {
		if caller := rpc.CallerOf(stream.Context()); caller != office {
			t.Errorf("the handler's caller is %+v, want that of the token", caller)
		}
		if err := stream.Send(&vernationv1.WatchDayRoutesResponse{ResumeToken: "first"}); err != nil {
			return err
		}
		panic(secret)
	}))
	stream, err := vernationv1.NewChangeServiceClient(b.conn).WatchDayRoutes(b.as(t, office),
		&vernationv1.WatchDayRoutesRequest{Parent: "businesses/demo/technicians/tech-a"})
	if err != nil {
		t.Fatal(err)
	}
	if message, err := stream.Recv(); err != nil || message.GetResumeToken() != "first" {
		t.Fatalf("the first message is %v, %v", message, err)
	}
	_, err = stream.Recv()
	told := status.Convert(err)
	if told.Code() != codes.Internal || strings.Contains(told.String(), "4711") || len(told.Details()) != 0 {
		t.Fatalf("the caller is told %v %v; want INTERNAL, an id and nothing else", told, told.Details())
	}
	words := strings.Fields(told.Message())
	for until := time.Now().Add(5 * time.Second); !strings.Contains(b.log.String(), `"code":"Internal"`); time.Sleep(time.Millisecond) {
		if time.Now().After(until) { // the line is written after the answer is sent
			t.Fatalf("no line says how the stream ended:\n%s", b.log)
		}
	}
	if log := b.log.String(); !strings.Contains(log, words[len(words)-1]) || !strings.Contains(log, secret) || !strings.Contains(log, "goroutine") {
		t.Errorf("the log lacks the incident, the cause or the stack:\n%s", log)
	}
}

func TestStreams_OnlyWhatTheContractAllowsReachesTheHandler(t *testing.T) {
	t.Parallel()
	b := setup(t, streams(func(grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error {
		t.Error("the handler ran")
		return nil
	}))
	stream, err := vernationv1.NewChangeServiceClient(b.conn).WatchDayRoutes(b.as(t, office),
		&vernationv1.WatchDayRoutesRequest{Parent: "businesses/demo/technicians/tech-a", ResumeToken: strings.Repeat("x", 5<<20)})
	if err == nil {
		_, err = stream.Recv()
	}
	expect(t, err, codes.ResourceExhausted, "MESSAGE_TOO_LARGE")
	stream, err = vernationv1.NewChangeServiceClient(b.conn).WatchDayRoutes(b.as(t, office), &vernationv1.WatchDayRoutesRequest{Parent: "nonsense"})
	if err == nil {
		_, err = stream.Recv()
	}
	expectField(t, err, "parent", "NAME_FORM")
}
