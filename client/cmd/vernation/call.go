package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"reflect"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
)

// call asks the server and prints what it answers.
func (m *method) call(ctx context.Context, s *surroundings, by settled, c *client.Client, request proto.Message, filled reflect.Value) error {
	p := &printer{out: s.out, settled: by, coloured: by.colour == "always" || by.colour == "auto" && s.terminal, places: &places{ctx: ctx, client: c, business: by.who.Business}}
	if m.descriptor.IsStreamingServer() {
		return m.watch(ctx, c, p, request, int(filled.FieldByName("First").Int()))
	}
	answer, err := m.ask(ctx, c, request)
	if err != nil {
		return err
	}
	if items := itemsOf(m.descriptor.Output()); items != nil && !m.paged(request) {
		if answer, err = m.allPages(ctx, c, request, answer, items); err != nil {
			return err
		}
	}
	if run, ok := answer.(*vernationv1.PlanRun); ok && filled.FieldByName("Wait").Bool() {
		bar := &progress{out: s.errOut, terminal: s.progress, began: s.now(), now: s.now}
		plan, err := c.AwaitPlan(ctx, run.GetName(), bar.show)
		bar.end()
		if err != nil && ctx.Err() != nil {
			return fmt.Errorf("not waited for to its end: the run goes on; `vernation office plan cancel-plan-run %s` ends it: %w", id(run.GetName()), ctx.Err())
		}
		if err != nil {
			return err
		}
		answer = plan
	}
	return p.print(answer)
}

// fullName is the method as gRPC calls it.
func (m *method) fullName() string {
	return fmt.Sprintf("/%s/%s", m.descriptor.Parent().FullName(), m.descriptor.Name())
}

// ask makes one call.
func (m *method) ask(ctx context.Context, c *client.Client, request proto.Message) (proto.Message, error) {
	answer := newMessage(m.descriptor.Output())
	return answer, c.Conn().Invoke(ctx, m.fullName(), request, answer)
}

// paged says whether the caller asks for a page and no more.
func (m *method) paged(request proto.Message) bool {
	reflected := request.ProtoReflect()
	for _, name := range []protoreflect.Name{"page_size", "page_token"} {
		if field := reflected.Descriptor().Fields().ByName(name); field == nil || reflected.Has(field) {
			return true
		}
	}
	return false
}

// allPages adds the pages that follow to a list's first.
func (m *method) allPages(ctx context.Context, c *client.Client, request, answer proto.Message, items protoreflect.FieldDescriptor) (proto.Message, error) {
	page := proto.Clone(request)
	next := answer.ProtoReflect().Descriptor().Fields().ByName("next_page_token")
	for latest := answer; ; {
		token := latest.ProtoReflect().Get(next)
		if token.String() == "" || latest.ProtoReflect().Get(items).List().Len() == 0 {
			return answer, nil
		}
		page.ProtoReflect().Set(page.ProtoReflect().Descriptor().Fields().ByName("page_token"), token)
		var err error
		if latest, err = m.ask(ctx, c, page); err != nil {
			return nil, err
		}
		list := answer.ProtoReflect().Mutable(items).List()
		more := latest.ProtoReflect().Get(items).List()
		for i := range more.Len() {
			list.Append(more.Get(i))
		}
		answer.ProtoReflect().Set(next, latest.ProtoReflect().Get(next))
	}
}

// itemsOf is what an answer lists; nil when it is no list.
func itemsOf(answer protoreflect.MessageDescriptor) protoreflect.FieldDescriptor {
	if answer.Fields().ByName("next_page_token") == nil {
		return nil
	}
	for i := range answer.Fields().Len() {
		if field := answer.Fields().Get(i); field.IsList() && field.Message() != nil {
			return field
		}
	}
	return nil
}

// watch prints messages as they come, until so many have, or the stream or the context ends.
func (m *method) watch(ctx context.Context, c *client.Client, p *printer, request proto.Message, count int) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if watch, ok := request.(*vernationv1.WatchDayRoutesRequest); ok { // goes on over a server that ends
		seen := 0
		for message, err := range c.WatchDayRoutes(ctx, watch) {
			if err != nil {
				return err
			}
			if err := p.print(message); err != nil {
				return err
			}
			if seen++; seen == count {
				return nil
			}
		}
		return nil
	}
	stream, err := c.Conn().NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, m.fullName())
	if err != nil {
		return err
	}
	if err := errors.Join(stream.SendMsg(request), stream.CloseSend()); err != nil {
		return err
	}
	for seen := 0; count == 0 || seen < count; seen++ {
		message := newMessage(m.descriptor.Output())
		if err := stream.RecvMsg(message); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if err := p.print(message); err != nil {
			return err
		}
	}
	return nil
}
