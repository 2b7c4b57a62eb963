package client

import (
	"context"
	"errors"
	"iter"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// pageRequest and pageAnswer are what a list asks and answers with, as the contract has it.
type (
	pageRequest interface {
		proto.Message
		GetPageToken() string
	}
	pageAnswer interface{ GetNextPageToken() string }
)

// All goes over everything that a list holds, page by page as it is asked for, from the page that the request names:
//
//	for site, err := range client.All(ctx, c.Sites().ListSites, request, (*vernationv1.ListSitesResponse).GetSites) {
//
// The request stays as it is. After an error, which comes with the zero value, there is nothing more; the loop may
// break off whenever it likes.
func All[Request pageRequest, Answer pageAnswer, Item any](
	ctx context.Context, list func(context.Context, Request, ...grpc.CallOption) (Answer, error), request Request, items func(Answer) []Item,
) iter.Seq2[Item, error] {
	return func(yield func(Item, error) bool) {
		page := proto.CloneOf(request)
		for {
			var none Item
			answer, err := list(ctx, page)
			if err != nil {
				yield(none, err)
				return
			}
			for _, item := range items(answer) {
				if !yield(item, nil) {
					return
				}
			}
			next := answer.GetNextPageToken()
			switch {
			case next == "", len(items(answer)) == 0: // a feed's token is never empty: an empty page is its end for now
				return
			case next == page.GetPageToken():
				yield(none, errors.New("the list gives the same page again and again"))
				return
			}
			reflected := page.ProtoReflect()
			reflected.Set(reflected.Descriptor().Fields().ByName("page_token"), protoreflect.ValueOfString(next))
		}
	}
}
