package rpc_test

import (
	"context"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/identity"
)

// sending sends bytes as they are.
type sending struct{ encoding.CodecV2 }

func (s sending) Marshal(request any) (mem.BufferSlice, error) {
	return mem.BufferSlice{mem.SliceBuffer(request.([]byte))}, nil
}

func TestFrame_ARequestThatCannotBeReadIsTheCallersMistake(t *testing.T) {
	t.Parallel()
	b := setup(t, untouched(t), streams(func(grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error {
		t.Error("the handler ran")
		return nil
	}))
	codec := grpc.ForceCodecV2(sending{encoding.GetCodecV2("proto")})
	for name, wire := range map[string][]byte{"cut off": []byte("\x0a\x20businesses/demo"), "no UTF-8": []byte("\x0a\x02\xff\xfe")} {
		get := func(ctx context.Context) error {
			return b.conn.Invoke(ctx, "/vernation.v1.SiteService/GetSite", wire, &vernationv1.Site{}, codec)
		}
		t.Run(name, func(t *testing.T) {
			expect(t, get(b.as(t, office)), codes.InvalidArgument, "REQUEST_UNREADABLE")
			expect(t, get(context.Background()), codes.Unauthenticated, identity.ReasonMissing)
			stream, err := b.conn.NewStream(b.as(t, office), &grpc.StreamDesc{ServerStreams: true}, "/vernation.v1.ChangeService/WatchDayRoutes", codec)
			if err != nil {
				t.Fatal(err)
			}
			if err := stream.SendMsg(wire); err != nil {
				t.Fatal(err)
			}
			expect(t, stream.RecvMsg(&vernationv1.WatchDayRoutesResponse{}), codes.InvalidArgument, "REQUEST_UNREADABLE")
		})
	}
}
