package rpc

import (
	"context"
	"time"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/course"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
	"vernation/server/internal/feed"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

const (
	usualHeartbeat = 20 * time.Second
	streamPage     = 200             // changes read in one go
	comeBackAfter  = 2 * time.Second // for a stream that the server's end ends
)

// Changes serves ChangeService. ending closes when the server ends: streams then end too, and nobody is kept waiting.
func Changes(kept *store.Store, ending <-chan struct{}) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterChangeServiceServer(r, &changeService{store: kept, ending: ending})
	}
}

type changeService struct {
	vernationv1.UnimplementedChangeServiceServer
	store  *store.Store
	ending <-chan struct{}
}

// ListChanges gives a page of changes, and waits for one where the caller asks for it.
func (s *changeService) ListChanges(ctx context.Context, request *vernationv1.ListChangesRequest) (*vernationv1.ListChangesResponse, error) {
	news := s.store.News(CallerOf(ctx).Business)
	defer news.Close()
	waited := time.NewTimer(request.GetWait().AsDuration())
	defer waited.Stop()
	for {
		next := news.Next()
		answer, err := s.page(ctx, request)
		if err != nil || len(answer.GetChanges()) > 0 {
			return answer, err
		}
		if request.GetPageToken() == "" { // what is new from here on is waited for, whatever the first page was
			request.PageToken = answer.GetNextPageToken()
		}
		select {
		case <-next:
			continue
		case <-waited.C:
		case <-s.ending:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		return answer, nil
	}
}

// page reads a page as it is now; its token is never empty.
func (s *changeService) page(ctx context.Context, request *vernationv1.ListChangesRequest) (*vernationv1.ListChangesResponse, error) {
	position, err := positionAfter(request)
	if err != nil {
		return nil, err
	}
	filter := store.ChangeFilter{Nouns: convert.Nouns(request.GetNouns()), Case: convert.ID[course.CaseID](request.GetCase())}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListChangesResponse, error) {
		if request.GetFromNow() && request.GetPageToken() == "" {
			last, err := tx.LastChange()
			return &vernationv1.ListChangesResponse{NextPageToken: convert.NextPage(request, positionKey(last))}, err
		}
		changes, err := tx.Changes(position, filter, convert.PageSize(request))
		if err != nil {
			return nil, err
		}
		if len(changes) > 0 {
			position = changes[len(changes)-1].Position
		}
		return &vernationv1.ListChangesResponse{
			Changes: convert.Changes(convert.NamesOf(tx.Caller().Business), changes), NextPageToken: convert.NextPage(request, positionKey(position)),
		}, nil
	})
}

// WatchDayRoutes sends the changes of a technician's day routes until the caller, the credential or the server ends.
func (s *changeService) WatchDayRoutes(request *vernationv1.WatchDayRoutesRequest, stream grpc.ServerStreamingServer[vernationv1.WatchDayRoutesResponse]) error {
	ctx := stream.Context()
	technician := convert.ID[scheduler.TechnicianID](request.GetParent())
	position, resumed, err := convert.Resume(request)
	if err != nil {
		return err
	}
	news := s.store.News(CallerOf(ctx).Business)
	defer news.Close()
	if position, err = s.begin(ctx, technician, position, resumed); err != nil {
		return err
	}
	send := func(change *vernationv1.ChangeEntry) error {
		return stream.Send(&vernationv1.WatchDayRoutesResponse{Change: change, ResumeToken: convert.ResumeToken(request, position)})
	}
	if !resumed {
		if err := send(nil); err != nil {
			return err
		}
	}
	beat := time.NewTicker(heartbeatOf(request))
	defer beat.Stop()
	for {
		next := news.Next()
		changes, err := s.after(ctx, technician, position)
		if err != nil {
			return err
		}
		for _, change := range changes {
			position = change.Position
			if err := send(convert.Change(namesOf(ctx), firm.Acknowledged{Change: change})); err != nil {
				return err
			}
		}
		if len(changes) == streamPage {
			continue
		}
		select {
		case <-next:
		case <-beat.C:
			if err := stillAdmitted(ctx); err != nil {
				return err
			}
			if err := send(nil); err != nil {
				return err
			}
		case <-s.ending:
			return serverEnds()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func heartbeatOf(request *vernationv1.WatchDayRoutesRequest) time.Duration {
	if request.GetHeartbeat() == nil {
		return usualHeartbeat
	}
	return request.GetHeartbeat().AsDuration()
}

func serverEnds() error {
	f := fault.New(fault.Away, "SERVER_ENDS", "the server ends: begin the stream again with the last resume token")
	f.RetryAfter = comeBackAfter
	return f
}

// begin judges who watches and returns the position that the stream goes on after.
func (s *changeService) begin(ctx context.Context, technician scheduler.TechnicianID, position int64, resumed bool) (int64, error) {
	err := s.store.Reading(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
		if err := feed.MayWatch(tx, technician); err != nil || resumed {
			return err
		}
		position, err = tx.LastChange()
		return err
	})
	return position, err
}

// after reads the changes of a technician's day routes after a position.
func (s *changeService) after(ctx context.Context, technician scheduler.TechnicianID, position int64) (changes []firm.Change, err error) {
	err = s.store.Reading(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
		changes, err = tx.Changes(position, store.ChangeFilter{Technician: technician}, streamPage)
		return err
	})
	return changes, err
}

// AcknowledgeChanges writes down that a technician has seen changes.
func (s *changeService) AcknowledgeChanges(ctx context.Context, request *vernationv1.AcknowledgeChangesRequest) (*vernationv1.AcknowledgeChangesResponse, error) {
	technician := convert.ID[scheduler.TechnicianID](request.GetParent())
	positions := make([]int64, len(request.GetChanges()))
	for i, name := range request.GetChanges() {
		positions[i] = convert.Position(name)
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.AcknowledgeChangesResponse, error) {
		changes, err := feed.Acknowledge(tx, technician, positions)
		if err != nil {
			return nil, err
		}
		return &vernationv1.AcknowledgeChangesResponse{Changes: convert.AcknowledgedChanges(convert.NamesOf(tx.Caller().Business), changes)}, nil
	})
}

// ListUnacknowledgedChanges gives a page of the changes for safety that nobody has acknowledged in time.
func (s *changeService) ListUnacknowledgedChanges(ctx context.Context, request *vernationv1.ListUnacknowledgedChangesRequest) (*vernationv1.ListUnacknowledgedChangesResponse, error) {
	technician := convert.ID[scheduler.TechnicianID](request.GetTechnician())
	position, err := positionAfter(request)
	if err != nil {
		return nil, err
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListUnacknowledgedChangesResponse, error) {
		page, next, err := paged(request,
			func(page store.Page) ([]firm.Acknowledged, error) {
				return feed.Unacknowledged(tx, technician, position, page.Size)
			},
			func(c firm.Acknowledged) string { return positionKey(c.Position) })
		if err != nil {
			return nil, err
		}
		changes := convert.AcknowledgedChanges(convert.NamesOf(tx.Caller().Business), page)
		return &vernationv1.ListUnacknowledgedChangesResponse{Changes: changes, NextPageToken: next}, nil
	})
}
