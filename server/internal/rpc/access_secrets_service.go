package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

// AccessSecrets serves what opens the sites.
func AccessSecrets(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterAccessSecretsServiceServer(r, &accessSecretsService{store: kept})
	}
}

type accessSecretsService struct {
	vernationv1.UnimplementedAccessSecretsServiceServer
	store *store.Store
}

// GetAccessSecrets gives what opens a site. It writes that it was read, so that it is no Look.
func (s *accessSecretsService) GetAccessSecrets(ctx context.Context, request *vernationv1.GetAccessSecretsRequest) (*vernationv1.AccessSecrets, error) {
	var found firm.AccessSecrets
	err := s.store.In(ctx, CallerOf(ctx), func(tx *store.Tx) (err error) {
		found, err = premises.AccessSecrets(tx, convert.SiteOfSecrets(request.GetName()))
		return err
	})
	if err != nil {
		return nil, err
	}
	return convert.AccessSecrets(namesOf(ctx), found), nil
}

// UpdateAccessSecrets changes what opens a site; the answer, which is kept, does not hold it.
func (s *accessSecretsService) UpdateAccessSecrets(ctx context.Context, request *vernationv1.UpdateAccessSecretsRequest) (*vernationv1.AccessSecrets, error) {
	of, names := convert.SiteOfSecrets(request.GetAccessSecrets().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.AccessSecrets, error) {
		version := convert.VersionFrom(request.GetAccessSecrets().GetEtag())
		changed, err := premises.ChangeAccessSecrets(tx, of, version, func(standing firm.AccessSecrets) (firm.AccessSecrets, error) {
			whole, err := merged(ctx, request, convert.AccessSecrets(names, standing))
			if err != nil {
				return standing, err
			}
			return convert.AccessSecretsFrom(of, whole), nil
		})
		if err != nil {
			return nil, err
		}
		return convert.WithoutSecrets(names, changed), nil
	})
}

// ListAccessSecretsReadings gives a page of who read what opens a site.
func (s *accessSecretsService) ListAccessSecretsReadings(ctx context.Context, request *vernationv1.ListAccessSecretsReadingsRequest) (*vernationv1.ListAccessSecretsReadingsResponse, error) {
	of := convert.ID[site.ID](request.GetParent())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListAccessSecretsReadingsResponse, error) {
		found, next, err := paged(request,
			func(page store.Page) ([]firm.SecretReading, error) { return premises.SecretReadings(tx, of, page) },
			func(r firm.SecretReading) string { return store.NewestKey(r.ReadAt, r.ID) })
		response := &vernationv1.ListAccessSecretsReadingsResponse{NextPageToken: next}
		for _, one := range found {
			response.Readings = append(response.Readings, convert.SecretReading(namesOf(ctx), one))
		}
		return response, err
	})
}
