package rpc_test

import (
	vernationv1 "vernation/proto/vernation/v1"
)

// wrongProducts are products that cannot be, by reason.
var wrongProducts = map[string]func(*vernationv1.Product){
	"UNKNOWN_MATERIAL":     func(p *vernationv1.Product) { p.Material = "holy-water" },
	"UNKNOWN_PEST":         func(p *vernationv1.Product) { p.Label.Pests = []string{"gremlin"} },
	"UNKNOWN_SPECIES":      func(p *vernationv1.Product) { p.Label.MustNot = []string{"triffid"} },
	"UNKNOWN_JURISDICTION": func(p *vernationv1.Product) { p.Jurisdictions = []string{"ZZ"} },
	"UNKNOWN_CATEGORY":     func(p *vernationv1.Product) { p.Label.Categories = []string{"none-such"} },
	"MIN_ABOVE_MAX":        func(p *vernationv1.Product) { p.Label.MinRate.Concentrate = "3 US fl oz" },
	"MAX_RATE_MISSING":     func(p *vernationv1.Product) { p.Label.MaxRate = nil },
	"MAX_PORTION_MISSING": func(p *vernationv1.Product) {
		p.Form, p.Label.MinRate, p.Label.MaxRate = vernationv1.Form_FORM_SOLID, nil, nil
	},
	"PACK_INVALID": func(p *vernationv1.Product) {
		p.Packs = []*vernationv1.Pack{{DisplayName: "a pack", Organisms: 10, Parts: 3}}
	},
	"RATE_INVALID":         func(p *vernationv1.Product) { p.Label.MaxRate.Per = "1 L" },
	"REGISTRATION_MISSING": func(p *vernationv1.Product) { p.Registration = "" },
	"MISSING":              func(p *vernationv1.Product) { p.Jurisdictions = nil },
	"CONTRADICTION":        func(p *vernationv1.Product) { p.Form = vernationv1.Form_FORM_READY_TO_USE },
	"DUPLICATE": func(p *vernationv1.Product) {
		because := &vernationv1.LawfulBecause{Jurisdiction: "US-PA", Reason: "read in the state's own list"}
		p.LawfulBecause = []*vernationv1.LawfulBecause{because, because}
	},
	"WINDOW_INVALID": func(p *vernationv1.Product) {
		p.Label.Hours = []*vernationv1.Window{{Opens: "24:00", Closes: "30:00"}}
	},
}

// lawful tells why a household remedy is lawful, which only the responsible applicator may.
func lawful(p *vernationv1.Product) {
	p.LawfulBecause = []*vernationv1.LawfulBecause{{Jurisdiction: "US-PA", Reason: "read in the state's own list"}}
}

// prepareProducts makes what the refusals speak of.
func (d *desk) prepareProducts() error {
	for _, id := range []string{"known", "left", "taken"} {
		ask := d.product(func(p *vernationv1.Product) { p.ExternalId = id })
		ask.ProductId = id
		if _, err := d.products().CreateProduct(d.office, ask); err != nil {
			return err
		}
	}
	_, err := d.products().DeleteProduct(d.office, &vernationv1.DeleteProductRequest{Name: d.name("products/left"), RequestId: request()})
	return err
}

func productRefusals() []refusal {
	create := func(id string, change func(*vernationv1.Product)) func(*desk) error {
		return func(d *desk) error {
			ask := d.product(change)
			ask.ProductId = id
			_, err := d.products().CreateProduct(d.office, ask)
			return err
		}
	}
	many := func(id string, change func(*vernationv1.Product)) func(*desk) error {
		return func(d *desk) error {
			ask := d.product(change)
			ask.ProductId = id
			_, err := d.products().BatchCreateProducts(d.office, &vernationv1.BatchCreateProductsRequest{
				Parent: d.name(""), RequestId: request(), Requests: []*vernationv1.CreateProductRequest{ask},
			})
			return err
		}
	}
	update := func(id string, paths []string, change func(*vernationv1.Product)) func(*desk) error {
		return func(d *desk) error {
			told := d.product(change).GetProduct()
			told.Name = d.name("products/" + id)
			_, err := d.products().UpdateProduct(d.office, &vernationv1.UpdateProductRequest{Product: told, UpdateMask: mask(paths...), RequestId: request()})
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.products().DeleteProduct(d.office, &vernationv1.DeleteProductRequest{Name: d.name("products/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	list := func(ask *vernationv1.ListProductsRequest) func(*desk) error {
		return func(d *desk) error {
			ask.Parent = d.name("")
			_, err := d.products().ListProducts(d.office, ask)
			return err
		}
	}
	labels := func(id, token string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.products().ListProductLabels(d.office, &vernationv1.ListProductLabelsRequest{Parent: d.name("products/" + id), PageToken: token})
			return err
		}
	}
	as := func(external string) func(*vernationv1.Product) {
		return func(p *vernationv1.Product) { p.ExternalId = external }
	}
	all := []string{"*"}
	refusals := []refusal{
		{"CreateProduct", "PERMISSION_DENIED RIGHT_NEEDED", create("new", lawful)},
		{"BatchCreateProducts", "PERMISSION_DENIED RIGHT_NEEDED", many("new", lawful)},
		{"UpdateProduct", "PERMISSION_DENIED RIGHT_NEEDED", update("known", []string{"lawful_because"}, lawful)},
		{"CreateProduct", "ALREADY_EXISTS EXISTS_ALREADY", create("soap", nil)},
		{"CreateProduct", "ALREADY_EXISTS EXISTS_ALREADY", create("new", as("taken"))},
		{"BatchCreateProducts", "ALREADY_EXISTS EXISTS_ALREADY", many("soap", nil)},
		{"UpdateProduct", "ALREADY_EXISTS EXISTS_ALREADY", update("known", []string{"external_id"}, as("taken"))},
		{"GetProduct", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.products().GetProduct(d.office, &vernationv1.GetProductRequest{Name: d.name("products/nothing")})
			return err
		}},
		{"UpdateProduct", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", []string{"colour"}, nil)},
		{"UpdateProduct", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", []string{"etag"}, nil)},
		{"UpdateProduct", "INVALID_ARGUMENT LABEL_VERSION_TAKEN", update("known", []string{"label"}, func(p *vernationv1.Product) { p.Label.LeastDays = 9 })},
		{"UpdateProduct", "NOT_FOUND NOT_FOUND", update("nothing", all, nil)},
		{"UpdateProduct", "ABORTED ETAG_STALE", update("known", all, func(p *vernationv1.Product) { p.Etag = "nonsense" })},
		{"UpdateProduct", "FAILED_PRECONDITION DELETED", update("left", all, nil)},
		{"DeleteProduct", "NOT_FOUND NOT_FOUND", remove("nothing", "")},
		{"DeleteProduct", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteProduct", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"ListProducts", "INVALID_ARGUMENT FILTER_INVALID", list(&vernationv1.ListProductsRequest{Filter: `colour = "green"`})},
		{"ListProducts", "INVALID_ARGUMENT ORDER_INVALID", list(&vernationv1.ListProductsRequest{OrderBy: "colour"})},
		{"ListProducts", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", list(&vernationv1.ListProductsRequest{PageToken: "page-2"})},
		{"ListProductLabels", "NOT_FOUND NOT_FOUND", labels("nothing", "")},
		{"ListProductLabels", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", labels("soap", "page-2")},
	}
	for reason, change := range wrongProducts {
		reason = "INVALID_ARGUMENT " + reason
		refusals = append(refusals, refusal{"CreateProduct", reason, create("new", change)}, refusal{"BatchCreateProducts", reason, many("new", change)},
			refusal{"UpdateProduct", reason, update("known", all, change)})
	}
	return refusals
}
