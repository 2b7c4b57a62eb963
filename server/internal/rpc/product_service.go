package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
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
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Product, error) { return s.add(ctx, tx, request) })
}

// BatchCreateProducts adds the records of products, all or none.
func (s *productService) BatchCreateProducts(ctx context.Context, request *vernationv1.BatchCreateProductsRequest) (*vernationv1.BatchCreateProductsResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateProductsResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateProductRequest) (*vernationv1.Product, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateProductsResponse{Products: added}, err
	})
}

func (s *productService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateProductRequest) (*vernationv1.Product, error) {
	told, err := convert.ProductFrom("product", catalogue.ProductID(request.GetProductId()), request.GetProduct())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddProduct(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.Product(namesOf(ctx), added), nil
}

// GetProduct gives one product.
func (s *productService) GetProduct(ctx context.Context, request *vernationv1.GetProductRequest) (*vernationv1.Product, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Product, error) {
		found, err := tx.KeptProduct(convert.ID[catalogue.ProductID](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Product(namesOf(ctx), found), nil
	})
}

// ListProducts gives a page of products.
func (s *productService) ListProducts(ctx context.Context, request *vernationv1.ListProductsRequest) (*vernationv1.ListProductsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListProductsResponse, error) {
		found, next, err := answered(convert.ProductList, request, tx.KeptProducts)
		response := &vernationv1.ListProductsResponse{NextPageToken: next}
		for _, one := range found {
			response.Products = append(response.Products, convert.Product(namesOf(ctx), one))
		}
		return response, err
	})
}

// UpdateProduct changes what the mask names of a product.
func (s *productService) UpdateProduct(ctx context.Context, request *vernationv1.UpdateProductRequest) (*vernationv1.Product, error) {
	told, names := request.GetProduct(), namesOf(ctx)
	id := convert.ID[catalogue.ProductID](told.GetName())
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Product, error) {
		changed, err := premises.ChangeProduct(tx, id, convert.VersionFrom(told.GetEtag()), func(standing firm.Kept[catalogue.Product]) (firm.Kept[catalogue.Product], error) {
			whole, err := merged(ctx, request, convert.Product(names, standing))
			if err != nil {
				return standing, err
			}
			return convert.ProductFrom("product", id, whole)
		})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Product(names, changed), nil
	})
}

// DeleteProduct withdraws a product.
func (s *productService) DeleteProduct(ctx context.Context, request *vernationv1.DeleteProductRequest) (*vernationv1.Product, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Product, error) {
		deleted, err := premises.DeleteProduct(tx, convert.ID[catalogue.ProductID](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.Product(namesOf(ctx), deleted), nil
	})
}

// ListProductLabels gives a page of the labels that were ever read of a product, the latest first.
func (s *productService) ListProductLabels(ctx context.Context, request *vernationv1.ListProductLabelsRequest) (*vernationv1.ListProductLabelsResponse, error) {
	id := convert.ID[catalogue.ProductID](request.GetParent())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListProductLabelsResponse, error) {
		if _, err := tx.KeptProduct(id); err != nil {
			return nil, err
		}
		found, next, err := paged(request, func(page store.Page) ([]firm.ProductLabel, error) { return tx.Labels(id, page) },
			func(l firm.ProductLabel) string { return store.NewestKey(l.ReadAt, l.Product.LabelVersion) })
		response := &vernationv1.ListProductLabelsResponse{NextPageToken: next}
		for _, one := range found {
			response.Labels = append(response.Labels, convert.ProductLabel(namesOf(ctx), one))
		}
		return response, err
	})
}
