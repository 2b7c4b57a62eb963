package store

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var productsListed = source{
	document: keptSQL("p", "p.detail"), from: "FROM product p WHERE p.business_id = $1", deleted: "p.deleted_at",
	columns: map[string]string{
		"name": "p.product_id", "display_name": "p.name", "material": "p.material_id", "form": "p.form", "registration": "p.registration",
		"label_version": "p.label_version", "external_id": "coalesce(p.external_id, '')", "delete_time": "p.deleted_at",
	},
}

// KeptProducts returns a page of products as they are kept.
func (tx *Tx) KeptProducts(asked listing.Question) ([]Listed[firm.Kept[catalogue.Product]], error) {
	return listed[firm.Kept[catalogue.Product]](tx, productsListed, asked)
}

// KeptProduct returns a product as it is kept, a withdrawn one too.
func (tx *Tx) KeptProduct(id catalogue.ProductID) (firm.Kept[catalogue.Product], error) {
	row, err := one[document[firm.Kept[catalogue.Product]]](tx, "product", string(id),
		selecting+keptSQL("p", "p.detail")+` FROM product p WHERE p.business_id = $1 AND p.product_id = $2`, string(id))
	return row.value, err
}

// LockProduct keeps others from changing a product until the transaction ends; NotFound for an unknown one.
func (tx *Tx) LockProduct(id catalogue.ProductID) error {
	_, err := one[string](tx, "product", string(id),
		`SELECT product_id FROM product WHERE business_id = $1 AND product_id = $2 FOR NO KEY UPDATE`, string(id))
	return err
}

// SetProductExternalID writes what another system calls a product; Exists when another product in use has the name.
func (tx *Tx) SetProductExternalID(id catalogue.ProductID, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounProduct, ID: string(id), Kind: firm.Changed})
	const statement = `UPDATE product SET external_id = $3 WHERE business_id = $1 AND product_id = $2`
	return changed("product", string(id))(tx.exec(statement, string(id), text(external)))
}

const updateProductSQL = `
UPDATE product
SET
	name = p ->> 'name',
	registration = coalesce(p ->> 'registration', ''),
	label_version = coalesce(p ->> 'label_version', ''),
	detail = p,
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS p
WHERE product.business_id = $1 AND product.product_id = p ->> 'id'`

// UpdateProduct writes a product anew, but for its material and form, and keeps its label where that is a new one.
func (tx *Tx) UpdateProduct(p catalogue.Product, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounProduct, ID: string(p.ID), Kind: firm.Changed})
	if err := changed("product", string(p.ID))(tx.exec(updateProductSQL, jsonOf([]catalogue.Product{p}), text(external))); err != nil {
		return err
	}
	return tx.insertLabels([]catalogue.Product{p})
}

// DeleteProduct marks a product as withdrawn at the firm's present instant.
func (tx *Tx) DeleteProduct(id catalogue.ProductID) error {
	tx.Tell(firm.Change{Noun: firm.NounProduct, ID: string(id), Kind: firm.Deleted})
	const statement = `UPDATE product SET deleted_at = $3, revision = revision + 1 WHERE business_id = $1 AND product_id = $2`
	return changed("product", string(id))(tx.exec(statement, string(id), instant(tx.now)))
}

// WithdrawnProducts returns the ids of the products that are used no more, sorted.
func (tx *Tx) WithdrawnProducts() ([]catalogue.ProductID, error) {
	return list[catalogue.ProductID](tx, `SELECT product_id FROM product WHERE business_id = $1 AND deleted_at IS NOT NULL ORDER BY product_id`)
}

const insertLabelsSQL = `
INSERT INTO product_label (business_id, product_id, label_version, read_at, detail)
SELECT
	$1,
	p ->> 'id',
	coalesce(p ->> 'label_version', ''),
	$3,
	p
FROM jsonb_array_elements($2::jsonb) AS p
ON CONFLICT DO NOTHING`

// insertLabels keeps labels; one that is known stays as it was first read.
func (tx *Tx) insertLabels(products []catalogue.Product) error {
	if len(products) == 0 {
		return nil
	}
	_, err := tx.exec(insertLabelsSQL, jsonOf(products), instant(tx.now))
	return err
}

type labelRow struct {
	Read    instant `db:"read_at"`
	Product document[catalogue.Product]
}

const labelColumnsSQL = `
SELECT read_at, detail AS product
FROM product_label
WHERE business_id = $1 AND product_id = $2 `

// Label returns a label that was read of a product; NotFound where none of that version was.
func (tx *Tx) Label(id catalogue.ProductID, version string) (firm.ProductLabel, error) {
	row, err := one[labelRow](tx, "label", version, labelColumnsSQL+`AND label_version = $3`, string(id), version)
	return firm.ProductLabel{ReadAt: civil.Instant(row.Read), Product: row.Product.value}, err
}

// Labels returns a page of the labels of a product, the latest first; its keys are NewestKey(ReadAt, label version). One
// from before labels were kept is the last.
func (tx *Tx) Labels(id catalogue.ProductID, page Page) ([]firm.ProductLabel, error) {
	const rest = `
	AND ($4 = '' OR (coalesce(read_at, 'epoch'), label_version) < (coalesce($3, 'epoch'::timestamptz), $4))
ORDER BY coalesce(read_at, 'epoch') DESC, label_version DESC
LIMIT $5`
	at, after, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	rows, err := list[labelRow](tx, labelColumnsSQL+rest, string(id), at, after, page.limit())
	labels := make([]firm.ProductLabel, len(rows))
	for i, row := range rows {
		labels[i] = firm.ProductLabel{ReadAt: civil.Instant(row.Read), Product: row.Product.value}
	}
	return labels, err
}
