package premises

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddProducts stores the business's records of its containers.
//
// Fails with Invalid (INVALID_FIELDS: every wrong field), Exists for an id, and Forbidden (RIGHT_NEEDED) when one says
// why a household remedy is lawful and the caller is not the responsible applicator.
func AddProducts(tx *store.Tx, products []catalogue.Product) error {
	var fields []catalogue.FieldError
	for i, p := range products {
		path := fmt.Sprintf("products[%d]", i)
		if len(products) == 1 {
			path = "product"
		}
		fields = append(fields, under(path, p.Validate(catalogue.Shipped()))...)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	if slices.ContainsFunc(products, func(p catalogue.Product) bool { return len(p.LawfulBecause) > 0 }) {
		if err := mayTellLawful(tx); err != nil {
			return err
		}
	}
	return tx.InsertProducts(products)
}

// mayTellLawful refuses (Forbidden, RIGHT_NEEDED) whoever is not the responsible applicator.
func mayTellLawful(tx *store.Tx) error {
	if tx.Caller().ResponsibleApplicator {
		return nil
	}
	f := fault.New(fault.Forbidden, "RIGHT_NEEDED", "only the responsible applicator records why a household remedy is lawful: ask one of them")
	f.Needs = []string{"responsible_applicator"}
	return f
}

// AddProduct stores the record of a product.
//
// Fails as AddProducts does, and with Exists for an external id.
func AddProduct(tx *store.Tx, told firm.Kept[catalogue.Product]) (firm.Kept[catalogue.Product], error) {
	if err := AddProducts(tx, []catalogue.Product{told.Value}); err != nil {
		return told, err
	}
	if err := tx.SetProductExternalID(told.Value.ID, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptProduct(told.Value.ID)
}

// ChangeProduct changes a product: change gives it as told from what stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), Exists for an external id, Invalid as AddProducts does or with
// CONTRADICTION for another material or form and LABEL_VERSION_TAKEN for a label that changed under a version that another
// label bears, Forbidden (RIGHT_NEEDED) for another reason why a household remedy is lawful, and as change does.
func ChangeProduct(tx *store.Tx, id catalogue.ProductID, version *int64, change func(firm.Kept[catalogue.Product]) (firm.Kept[catalogue.Product], error)) (firm.Kept[catalogue.Product], error) {
	standing, err := standing("product", id, version, tx.LockProduct, tx.KeptProduct)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	fields := catalogue.FieldErrors(under("product", told.Value.Validate(catalogue.Shipped())))
	if told.Value.Material != standing.Value.Material {
		fields.Add("product.material", catalogue.ReasonContradiction, "%s was recorded as %s: another material is another product", standing.Value.Name, standing.Value.Material)
	}
	if told.Value.Form != standing.Value.Form {
		fields.Add("product.form", catalogue.ReasonContradiction, "%s was recorded as %s: another form is another product", standing.Value.Name, standing.Value.Form)
	}
	if err := labelTaken(tx, told.Value, &fields); err != nil {
		return standing, err
	}
	if err := fault.InvalidFields(fields); err != nil {
		return standing, err
	}
	if !reflect.DeepEqual(told.Value.LawfulBecause, standing.Value.LawfulBecause) {
		if err := mayTellLawful(tx); err != nil {
			return standing, err
		}
	}
	if err := tx.UpdateProduct(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptProduct(id)
}

// labelTaken notes a label whose version another label of the product bears: records name it by that.
func labelTaken(tx *store.Tx, p catalogue.Product, fields *catalogue.FieldErrors) error {
	kept, err := tx.Label(p.ID, p.LabelVersion)
	if fault.Is(err, fault.NotFound) {
		return nil
	}
	if err == nil && !sameLabel(kept.Product, p) {
		fields.Add("product.label_version", "LABEL_VERSION_TAKEN", "what the label %q of %s says was another thing: a label that changes wants a version of its own", p.LabelVersion, p.Name)
	}
	return err
}

// sameLabel says whether two records of a product tell the same of its container.
func sameLabel(a, b catalogue.Product) bool {
	return a.Registration == b.Registration && slices.Equal(a.Jurisdictions, b.Jurisdictions) && sameWritten(a.Label, b.Label)
}

// sameWritten compares labels as they are written: a list that is empty is one that is not there.
func sameWritten(a, b catalogue.Label) bool {
	first, errFirst := json.Marshal(a)
	second, errSecond := json.Marshal(b)
	return errFirst == nil && errSecond == nil && bytes.Equal(first, second)
}

// DeleteProduct withdraws a product. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED) and Stale (ETAG_STALE).
func DeleteProduct(tx *store.Tx, id catalogue.ProductID, version *int64) (firm.Kept[catalogue.Product], error) {
	standing, err := standing("product", id, version, tx.LockProduct, tx.KeptProduct)
	if err != nil {
		return standing, err
	}
	if err := tx.DeleteProduct(id); err != nil {
		return standing, err
	}
	return tx.KeptProduct(id)
}
