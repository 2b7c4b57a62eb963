package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type clientService struct {
	vernationv1.UnimplementedClientServiceServer
	store *store.Store
}

// Clients serves the clients of a business.
func Clients(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterClientServiceServer(r, &clientService{store: kept}) }
}

// CreateClient adds a client.
func (s *clientService) CreateClient(ctx context.Context, request *vernationv1.CreateClientRequest) (*vernationv1.Client, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Client, error) { return s.add(ctx, tx, request) })
}

// BatchCreateClients adds clients, all or none.
func (s *clientService) BatchCreateClients(ctx context.Context, request *vernationv1.BatchCreateClientsRequest) (*vernationv1.BatchCreateClientsResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateClientsResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateClientRequest) (*vernationv1.Client, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateClientsResponse{Clients: added}, err
	})
}

func (s *clientService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateClientRequest) (*vernationv1.Client, error) {
	told, err := convert.ClientFrom("client", request.GetClientId(), request.GetClient())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddClient(tx, told)
	if err != nil {
		return nil, err
	}
	return convert.Client(namesOf(ctx), added), nil
}

// GetClient gives one client.
func (s *clientService) GetClient(ctx context.Context, request *vernationv1.GetClientRequest) (*vernationv1.Client, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Client, error) {
		found, err := tx.KeptClient(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Client(namesOf(ctx), found), nil
	})
}

// ListClients gives a page of clients.
func (s *clientService) ListClients(ctx context.Context, request *vernationv1.ListClientsRequest) (*vernationv1.ListClientsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListClientsResponse, error) {
		found, next, err := answered(convert.ClientList, request, tx.KeptClients)
		response := &vernationv1.ListClientsResponse{NextPageToken: next}
		for _, one := range found {
			response.Clients = append(response.Clients, convert.Client(namesOf(ctx), one))
		}
		return response, err
	})
}

// UpdateClient changes what the mask names of a client.
func (s *clientService) UpdateClient(ctx context.Context, request *vernationv1.UpdateClientRequest) (*vernationv1.Client, error) {
	id, names := convert.ID[string](request.GetClient().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Client, error) {
		changed, err := premises.ChangeClient(tx, id, convert.VersionFrom(request.GetClient().GetEtag()),
			func(standing firm.Kept[firm.Client]) (firm.Kept[firm.Client], error) {
				whole, err := merged(ctx, request, convert.Client(names, standing))
				if err != nil {
					return standing, err
				}
				return convert.ClientFrom("client", id, whole)
			})
		if err != nil {
			return nil, err
		}
		return convert.Client(names, changed), nil
	})
}

// DeleteClient deletes a client that has no site any more.
func (s *clientService) DeleteClient(ctx context.Context, request *vernationv1.DeleteClientRequest) (*vernationv1.Client, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Client, error) {
		deleted, err := premises.DeleteClient(tx, convert.ID[string](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.Client(namesOf(ctx), deleted), nil
	})
}
