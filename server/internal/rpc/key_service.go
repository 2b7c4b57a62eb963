package rpc

import (
	"context"
	"time"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/keys"
	"vernation/server/internal/store"
)

type keyService struct {
	vernationv1.UnimplementedKeyServiceServer
	store   *store.Store
	offered []string // the scopes that there are
}

// Keys serves the keys of programs.
func Keys(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterKeyServiceServer(r, &keyService{store: kept, offered: scopes()})
	}
}

// CreateIntegrationKey makes a key.
func (s *keyService) CreateIntegrationKey(ctx context.Context, request *vernationv1.CreateIntegrationKeyRequest) (*vernationv1.IssuedKey, error) {
	wish := keys.Wish{
		ID: request.GetIntegrationKeyId(), Name: request.GetIntegrationKey().GetDisplayName(),
		Scopes: request.GetIntegrationKey().GetScopes(), ExpiresAt: convert.InstantFrom(request.GetIntegrationKey().GetExpireTime()),
	}
	return s.issued(ctx, request, func(tx *store.Tx) (firm.IntegrationKey, string, error) { return keys.Issue(tx, wish, s.offered) })
}

// RotateIntegrationKey gives a key a new secret.
func (s *keyService) RotateIntegrationKey(ctx context.Context, request *vernationv1.RotateIntegrationKeyRequest) (*vernationv1.IssuedKey, error) {
	return s.issued(ctx, request, func(tx *store.Tx) (firm.IntegrationKey, string, error) {
		return keys.Rotate(tx, convert.ID[string](request.GetName()), convert.DurationFrom(request.GetOverlap()))
	})
}

// issued does a deed that makes a credential. The answer that is remembered for a repeated request is made without it:
// the credential is put in afterwards, where this very call did the deed.
func (s *keyService) issued(ctx context.Context, request Repeatable, do func(*store.Tx) (firm.IntegrationKey, string, error)) (*vernationv1.IssuedKey, error) {
	credential := ""
	answer, err := Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.IssuedKey, error) {
		made, text, err := do(tx)
		if err != nil {
			return nil, err
		}
		credential = text
		return &vernationv1.IssuedKey{IntegrationKey: convert.IntegrationKey(namesOf(ctx), made, time.Now())}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Credential = credential
	return answer, nil
}

// RevokeIntegrationKey ends a key.
func (s *keyService) RevokeIntegrationKey(ctx context.Context, request *vernationv1.RevokeIntegrationKeyRequest) (*vernationv1.IntegrationKey, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.IntegrationKey, error) {
		ended, err := keys.Revoke(tx, convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.IntegrationKey(namesOf(ctx), ended, time.Now()), nil
	})
}

// GetIntegrationKey gives one key.
func (s *keyService) GetIntegrationKey(ctx context.Context, request *vernationv1.GetIntegrationKeyRequest) (*vernationv1.IntegrationKey, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.IntegrationKey, error) {
		found, err := tx.IntegrationKey(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.IntegrationKey(namesOf(ctx), found, time.Now()), nil
	})
}

// ListIntegrationKeys gives a page of keys by id.
func (s *keyService) ListIntegrationKeys(ctx context.Context, request *vernationv1.ListIntegrationKeysRequest) (*vernationv1.ListIntegrationKeysResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListIntegrationKeysResponse, error) {
		found, next, err := paged(request, tx.IntegrationKeys, func(k firm.IntegrationKey) string { return k.ID })
		response := &vernationv1.ListIntegrationKeysResponse{NextPageToken: next}
		for _, one := range found {
			response.IntegrationKeys = append(response.IntegrationKeys, convert.IntegrationKey(namesOf(ctx), one, time.Now()))
		}
		return response, err
	})
}
