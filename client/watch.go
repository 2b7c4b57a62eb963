package client

import (
	"context"
	"iter"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// Times of a watch that goes on over a server that was away.
const (
	resumeAfter    = 200 * time.Millisecond
	resumeAfterMax = 10 * time.Second
	waitForChanges = 50 * time.Second // the longest that the contract allows
)

// WatchDayRoutes gives the changes of a technician's day routes as they happen, each once and in order. Where the stream
// breaks because the server ends or cannot be reached, it begins again after the last message seen, for as long as the
// context lasts. The token of the last message goes on with the watch days later: put it into the request.
func (c *Client) WatchDayRoutes(ctx context.Context, request *vernationv1.WatchDayRoutesRequest) iter.Seq2[*vernationv1.WatchDayRoutesResponse, error] {
	return func(yield func(*vernationv1.WatchDayRoutesResponse, error) bool) {
		ctx, cancel := context.WithCancel(ctx) // ends the stream when the loop breaks off
		defer cancel()
		from := proto.CloneOf(request)
		pause := resumeAfter
		for {
			stream, err := c.Changes().WatchDayRoutes(ctx, from)
			for err == nil {
				var message *vernationv1.WatchDayRoutesResponse
				if message, err = stream.Recv(); err != nil {
					break
				}
				pause = resumeAfter
				from.ResumeToken = message.GetResumeToken()
				if !yield(message, nil) {
					return
				}
			}
			if status.Code(err) != codes.Unavailable || !slept(ctx, pause) {
				yield(nil, err)
				return
			}
			pause = min(2*pause, resumeAfterMax)
		}
	}
}

// FollowChanges gives the changes of a business in their order and then each new one as it happens, for as long as the
// context lasts: each at least once. It hands on the token that goes on after the change, so that a program that has
// stored both may end and go on with it days later.
func (c *Client) FollowChanges(ctx context.Context, request *vernationv1.ListChangesRequest) iter.Seq2[FollowedChange, error] {
	return func(yield func(FollowedChange, error) bool) {
		page := proto.CloneOf(request)
		if page.GetWait() == nil {
			page.Wait = durationpb.New(waitForChanges)
		}
		for {
			answer, err := c.Changes().ListChanges(ctx, page)
			if err != nil {
				yield(FollowedChange{}, err)
				return
			}
			changes := answer.GetChanges()
			for i, change := range changes {
				followed := FollowedChange{Change: change, PageToken: page.GetPageToken()}
				if i == len(changes)-1 {
					followed.PageToken = answer.GetNextPageToken()
				}
				if !yield(followed, nil) {
					return
				}
			}
			page.PageToken, page.FromNow = answer.GetNextPageToken(), false
		}
	}
}

// FollowedChange is a change with the token to go on with.
type FollowedChange struct {
	Change *vernationv1.ChangeEntry
	// PageToken goes on so that nothing is missed: after this change where it ends a page, else at the begin of its page.
	PageToken string
}

// slept waits, and says whether the context lasted.
func slept(ctx context.Context, pause time.Duration) bool {
	select {
	case <-ctx.Done():
		return false
	case <-time.After(pause):
		return true
	}
}
