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

type policyService struct {
	vernationv1.UnimplementedPolicyServiceServer
	store *store.Store
}

// Policies serves what a business sets itself.
func Policies(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterPolicyServiceServer(r, &policyService{store: kept}) }
}

// GetPolicy gives the policy.
func (s *policyService) GetPolicy(ctx context.Context, _ *vernationv1.GetPolicyRequest) (*vernationv1.Policy, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Policy, error) {
		found, err := premises.Policy(tx)
		if err != nil {
			return nil, err
		}
		return convert.Policy(namesOf(ctx), found), nil
	})
}

// UpdatePolicy changes what the mask names of the policy; of its settings those that the request names.
func (s *policyService) UpdatePolicy(ctx context.Context, request *vernationv1.UpdatePolicyRequest) (*vernationv1.Policy, error) {
	names := namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Policy, error) {
		changed, err := premises.ChangePolicy(tx, convert.VersionFrom(request.GetPolicy().GetEtag()), func(standing firm.Policy) (firm.PolicyChange, error) {
			whole, err := merged(ctx, request, convert.Policy(names, standing))
			if err != nil {
				return firm.PolicyChange{}, err
			}
			return convert.PolicyChangeFrom(whole), nil
		})
		if err != nil {
			return nil, err
		}
		return convert.Policy(names, changed), nil
	})
}
