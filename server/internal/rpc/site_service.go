package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type siteService struct {
	vernationv1.UnimplementedSiteServiceServer
	store *store.Store
}

// Sites serves the sites of a business.
func Sites(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterSiteServiceServer(r, &siteService{store: kept}) }
}

// CreateSite adds a site with its areas.
func (s *siteService) CreateSite(ctx context.Context, request *vernationv1.CreateSiteRequest) (*vernationv1.Site, error) {
	told, err := convert.SiteFrom("site", site.ID(request.GetSiteId()), request.GetSite())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Site, error) {
		added, err := premises.AddSite(tx, told)
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Site(namesOf(ctx), added), nil
	})
}

// GetSite gives one site.
func (s *siteService) GetSite(ctx context.Context, request *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Site, error) {
		found, err := tx.Site(convert.ID[site.ID](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Site(namesOf(ctx), found), nil
	})
}

// ListSites gives a page of sites by name.
func (s *siteService) ListSites(ctx context.Context, request *vernationv1.ListSitesRequest) (*vernationv1.ListSitesResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListSitesResponse, error) {
		found, next, err := paged(request, tx.Sites, func(s site.Site) string { return string(s.ID) })
		response := &vernationv1.ListSitesResponse{NextPageToken: next}
		for _, one := range found {
			response.Sites = append(response.Sites, convert.Site(namesOf(ctx), one))
		}
		return response, err
	})
}
