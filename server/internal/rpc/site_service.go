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
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Site, error) { return s.add(ctx, tx, request) })
}

// BatchCreateSites adds sites, all or none.
func (s *siteService) BatchCreateSites(ctx context.Context, request *vernationv1.BatchCreateSitesRequest) (*vernationv1.BatchCreateSitesResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateSitesResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateSiteRequest) (*vernationv1.Site, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateSitesResponse{Sites: added}, err
	})
}

func (s *siteService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateSiteRequest) (*vernationv1.Site, error) {
	told, err := convert.SiteFrom("site", site.ID(request.GetSiteId()), request.GetSite())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddSite(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.Site(namesOf(ctx), added), nil
}

// GetSite gives one site.
func (s *siteService) GetSite(ctx context.Context, request *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Site, error) {
		found, err := tx.KeptSite(convert.ID[site.ID](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Site(namesOf(ctx), found), nil
	})
}

// ListSites gives a page of sites.
func (s *siteService) ListSites(ctx context.Context, request *vernationv1.ListSitesRequest) (*vernationv1.ListSitesResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListSitesResponse, error) {
		found, next, err := answered(convert.SiteList, request, tx.KeptSites)
		response := &vernationv1.ListSitesResponse{NextPageToken: next}
		for _, one := range found {
			response.Sites = append(response.Sites, convert.Site(namesOf(ctx), one))
		}
		return response, err
	})
}

// UpdateSite changes what the mask names of a site.
func (s *siteService) UpdateSite(ctx context.Context, request *vernationv1.UpdateSiteRequest) (*vernationv1.Site, error) {
	id, names := convert.ID[site.ID](request.GetSite().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Site, error) {
		changed, err := premises.ChangeSite(tx, id, convert.VersionFrom(request.GetSite().GetEtag()), func(standing firm.Kept[site.Site]) (firm.Kept[site.Site], error) {
			whole, err := merged(ctx, request, convert.Site(names, standing))
			if err != nil {
				return standing, err
			}
			return convert.SiteFrom("site", id, whole)
		})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Site(names, changed), nil
	})
}

// DeleteSite deletes a site that nothing needs any more.
func (s *siteService) DeleteSite(ctx context.Context, request *vernationv1.DeleteSiteRequest) (*vernationv1.Site, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Site, error) {
		deleted, err := premises.DeleteSite(tx, convert.ID[site.ID](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.Site(namesOf(ctx), deleted), nil
	})
}
