package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
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
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Plant, error) { return s.add(ctx, tx, request) })
}

// BatchCreatePlants adds plants, all or none.
func (s *plantService) BatchCreatePlants(ctx context.Context, request *vernationv1.BatchCreatePlantsRequest) (*vernationv1.BatchCreatePlantsResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreatePlantsResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreatePlantRequest) (*vernationv1.Plant, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreatePlantsResponse{Plants: added}, err
	})
}

func (s *plantService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreatePlantRequest) (*vernationv1.Plant, error) {
	told, services, err := convert.PlantFrom("plant", site.PlantID(request.GetPlantId()), request.GetPlant())
	if err != nil {
		return nil, err
	}
	added, all, err := premises.AddPlant(tx, told, services)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.Plant(namesOf(ctx), added, all), nil
}

// UpdatePlant changes what the mask names of a plant.
func (s *plantService) UpdatePlant(ctx context.Context, request *vernationv1.UpdatePlantRequest) (*vernationv1.Plant, error) {
	id, names := convert.ID[site.PlantID](request.GetPlant().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Plant, error) {
		changed, services, err := premises.ChangePlant(tx, id, convert.VersionFrom(request.GetPlant().GetEtag()),
			func(standing firm.Kept[site.Plant], services []site.Service) (firm.Kept[site.Plant], []site.Service, error) {
				whole, err := merged(ctx, request, convert.Plant(names, standing, services))
				if err != nil {
					return standing, nil, err
				}
				return convert.PlantFrom("plant", id, whole)
			})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return shownPlant(ctx, tx, changed, services)
	})
}

// DeletePlant deletes a plant.
func (s *plantService) DeletePlant(ctx context.Context, request *vernationv1.DeletePlantRequest) (*vernationv1.Plant, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Plant, error) {
		deleted, services, err := premises.DeletePlant(tx, convert.ID[site.PlantID](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return shownPlant(ctx, tx, deleted, services)
	})
}

// GetPlant gives one plant.
func (s *plantService) GetPlant(ctx context.Context, request *vernationv1.GetPlantRequest) (*vernationv1.Plant, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Plant, error) {
		found, err := tx.KeptPlant(convert.ID[site.PlantID](request.GetName()))
		if err != nil {
			return nil, err
		}
		services, err := tx.Services(found.Value.Site)
		if err != nil {
			return nil, err
		}
		return shownPlant(ctx, tx, found, services)
	})
}

// shownPlant writes a plant with what patch tests showed of it and its services.
func shownPlant(ctx context.Context, tx *store.Tx, kept firm.Kept[site.Plant], services []site.Service) (*vernationv1.Plant, error) {
	learned, err := casework.WithLearned(tx, kept.Value)
	if err != nil {
		return nil, err
	}
	kept.Value = learned[0]
	return convert.Plant(namesOf(ctx), kept, services), nil
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
		services, err := tx.Services(changed.Value.Site)
		if err != nil {
			return nil, err
		}
		return shownPlant(ctx, tx, changed, services)
	})
}

// ListPlants gives a page of plants, of one site or of all.
func (s *plantService) ListPlants(ctx context.Context, request *vernationv1.ListPlantsRequest) (*vernationv1.ListPlantsResponse, error) {
	at := convert.ID[site.ID](request.GetSite())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListPlantsResponse, error) {
		if at != "" {
			if _, err := tx.Site(at); err != nil {
				return nil, err
			}
		}
		found, next, err := answered(convert.PlantList, request, func(asked listing.Question) ([]store.Listed[firm.Kept[site.Plant]], error) {
			return tx.KeptPlants(at, asked)
		})
		if err != nil {
			return nil, err
		}
		learned, err := casework.WithLearned(tx, plantsOf(found)...)
		if err != nil {
			return nil, err
		}
		services, err := tx.Services(sitesOf(learned)...)
		response := &vernationv1.ListPlantsResponse{NextPageToken: next}
		for i, one := range found {
			one.Value = learned[i]
			response.Plants = append(response.Plants, convert.Plant(namesOf(ctx), one, services))
		}
		return response, err
	})
}

// plantsOf lists the plants themselves.
func plantsOf(kept []firm.Kept[site.Plant]) []site.Plant {
	plants := make([]site.Plant, len(kept))
	for i, k := range kept {
		plants[i] = k.Value
	}
	return plants
}

// sitesOf lists where plants stand.
func sitesOf(plants []site.Plant) []site.ID {
	sites := make([]site.ID, len(plants))
	for i, p := range plants {
		sites[i] = p.Site
	}
	return sites
}
