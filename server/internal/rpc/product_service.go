package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/convert"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type productService struct {
	vernationv1.UnimplementedProductServiceServer
	store *store.Store
}

// Products serves the products of a business.
func Products(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterProductServiceServer(r, &productService{store: kept})
	}
}

// CreateProduct adds the record of a product.
func (s *productService) CreateProduct(ctx context.Context, request *vernationv1.CreateProductRequest) (*vernationv1.Product, error) {
	told, err := convert.ProductFrom("product", catalogue.ProductID(request.GetProductId()), request.GetProduct())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Product, error) {
		if err := premises.AddProducts(tx, []catalogue.Product{told}); err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Product(namesOf(ctx), told), nil
	})
}

// GetProduct gives one product.
func (s *productService) GetProduct(ctx context.Context, request *vernationv1.GetProductRequest) (*vernationv1.Product, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Product, error) {
		found, err := tx.Product(convert.ID[catalogue.ProductID](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Product(namesOf(ctx), found), nil
	})
}

// ListProducts gives a page of products by name.
func (s *productService) ListProducts(ctx context.Context, request *vernationv1.ListProductsRequest) (*vernationv1.ListProductsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListProductsResponse, error) {
		found, next, err := paged(request, tx.Products, func(p catalogue.Product) string { return string(p.ID) })
		response := &vernationv1.ListProductsResponse{NextPageToken: next}
		for _, one := range found {
			response.Products = append(response.Products, convert.Product(namesOf(ctx), one))
		}
		return response, err
	})
}
