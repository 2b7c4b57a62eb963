package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type plantService struct {
	vernationv1.UnimplementedPlantServiceServer
	store *store.Store
}

// Plants serves the plants of a business.
func Plants(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterPlantServiceServer(r, &plantService{store: kept}) }
}

// CreatePlant adds a plant or a group of like plants with its services.
func (s *plantService) CreatePlant(ctx context.Context, request *vernationv1.CreatePlantRequest) (*vernationv1.Plant, error) {
	told, services, err := convert.PlantFrom("plant", site.PlantID(request.GetPlantId()), request.GetPlant())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Plant, error) {
		added, all, err := premises.AddPlant(tx, told, services)
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Plant(namesOf(ctx), added, all), nil
	})
}

// GetPlant gives one plant.
func (s *plantService) GetPlant(ctx context.Context, request *vernationv1.GetPlantRequest) (*vernationv1.Plant, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Plant, error) {
		found, err := tx.Plant(convert.ID[site.PlantID](request.GetName()))
		if err != nil {
			return nil, err
		}
		return shownPlant(ctx, tx, found)
	})
}

// shownPlant writes a plant with what patch tests showed of it and its services.
func shownPlant(ctx context.Context, tx *store.Tx, p site.Plant) (*vernationv1.Plant, error) {
	learned, err := casework.WithLearned(tx, p)
	if err != nil {
		return nil, err
	}
	services, err := tx.Services(p.Site)
	return convert.Plant(namesOf(ctx), learned[0], services), err
}

// RecordOwnerConsent records that the owner of a plant consents to its treatment, or withdraws that.
func (s *plantService) RecordOwnerConsent(ctx context.Context, request *vernationv1.RecordOwnerConsentRequest) (*vernationv1.Plant, error) {
	consent, err := convert.OwnerConsentFrom("owner_consent", request.GetOwnerConsent())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Plant, error) {
		changed, err := premises.RecordOwnerConsent(tx, convert.ID[site.PlantID](request.GetName()), consent)
		if err != nil {
			return nil, err
		}
		return shownPlant(ctx, tx, changed)
	})
}

// ListPlants gives a page of plants by name, of one site or of all.
func (s *plantService) ListPlants(ctx context.Context, request *vernationv1.ListPlantsRequest) (*vernationv1.ListPlantsResponse, error) {
	at := convert.ID[site.ID](request.GetSite())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListPlantsResponse, error) {
		if at != "" {
			if _, err := tx.Site(at); err != nil {
				return nil, err
			}
		}
		found, next, err := paged(request, func(page store.Page) ([]site.Plant, error) { return tx.Plants(at, page) },
			func(p site.Plant) string { return string(p.ID) })
		if err != nil {
			return nil, err
		}
		if found, err = casework.WithLearned(tx, found...); err != nil {
			return nil, err
		}
		services, err := tx.Services(sitesOf(found)...)
		response := &vernationv1.ListPlantsResponse{NextPageToken: next}
		for _, one := range found {
			response.Plants = append(response.Plants, convert.Plant(namesOf(ctx), one, services))
		}
		return response, err
	})
}

// sitesOf lists where plants stand.
func sitesOf(plants []site.Plant) []site.ID {
	sites := make([]site.ID, len(plants))
	for i, p := range plants {
		sites[i] = p.Site
	}
	return sites
}
