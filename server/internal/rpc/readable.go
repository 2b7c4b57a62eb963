package rpc

import (
	"bytes"

	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/fault"
)

// reading is the codec of requests. The library answers INTERNAL to bytes that it cannot read, before anybody is asked
// who calls; here such a request goes on with a mark in it, and the frame refuses it as the caller's mistake.
type reading struct{ encoding.CodecV2 }

// unreadableMark stands in a field of a number that no message has.
var unreadableMark = protowire.AppendString(protowire.AppendTag(nil, protowire.MaxValidNumber, protowire.BytesType), "unreadable")

// Unmarshal reads a message; one of the contract's that cannot be read gets the mark.
func (r reading) Unmarshal(data mem.BufferSlice, into any) error {
	err := r.CodecV2.Unmarshal(data, into)
	message, is := into.(proto.Message)
	if err == nil || !is || message.ProtoReflect().Descriptor().ParentFile().Package() != vernationv1.File_vernation_v1_options_proto.Package() {
		return err
	}
	proto.Reset(message)
	message.ProtoReflect().SetUnknown(unreadableMark)
	return nil
}

// read is nil for a request that could be read.
func read(request proto.Message) error {
	if !bytes.Equal(request.ProtoReflect().GetUnknown(), unreadableMark) {
		return nil
	}
	return fault.New(fault.Invalid, "REQUEST_UNREADABLE", "the request's bytes are no %s, or a text in it is not UTF-8", request.ProtoReflect().Descriptor().Name())
}
