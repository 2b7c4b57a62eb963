package store

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// inserted runs a batch: $2 is the JSON array of the values.
func inserted[T any](tx *Tx, statement string, values []T) error {
	if len(values) == 0 {
		return nil
	}
	_, err := tx.exec(statement, jsonOf(values))
	return err
}

const insertSitesSQL = `
INSERT INTO site (business_id, site_id, client_id, name, zone, jurisdiction, kind, detail)
SELECT
	$1,
	s ->> 'id',
	s ->> 'client',
	s ->> 'name',
	s ->> 'zone',
	s ->> 'jurisdiction',
	s ->> 'kind',
	s - 'areas'
FROM jsonb_array_elements($2::jsonb) AS s`

const putAreasSQL = `
INSERT INTO area (business_id, area_id, site_id, ordinal, name, detail)
SELECT $1, a.area ->> 'id', s ->> 'id', a.ordinal, a.area ->> 'name', a.area
FROM
	jsonb_array_elements($2::jsonb) AS s,
	jsonb_array_elements(nullif(s -> 'areas', 'null')) WITH ORDINALITY AS a (area, ordinal)
ON CONFLICT (business_id, area_id) DO UPDATE
SET
	ordinal = excluded.ordinal,
	name = excluded.name,
	detail = excluded.detail
WHERE area.site_id = excluded.site_id`

// InsertSites adds sites with their areas; Exists when a site or an area is known already.
func (tx *Tx) InsertSites(sites []site.Site) error {
	if err := inserted(tx, insertSitesSQL, sites); err != nil {
		return err
	}
	for _, s := range sites {
		tx.Tell(firm.Change{Noun: firm.NounSite, ID: string(s.ID), Kind: firm.Created, Site: s.ID})
	}
	return tx.putAreas(sites)
}

// putAreas writes the areas of sites; an id that another site has is refused.
func (tx *Tx) putAreas(sites []site.Site) error {
	want := 0
	for _, s := range sites {
		want += len(s.Areas)
	}
	if want == 0 {
		return nil
	}
	written, err := tx.exec(putAreasSQL, jsonOf(sites))
	if err == nil && written < want {
		return areaTaken()
	}
	return err
}

// siteSQL puts the areas back into their site, and beside what is stored of it what was told since: products that incidents
// bar, and what the client answered.
const siteSQL = `s.detail || jsonb_build_object('areas', coalesce(
	(SELECT jsonb_agg(a.detail ORDER BY a.ordinal, a.area_id) FROM area a WHERE a.business_id = $1 AND a.site_id = s.site_id),
	'[]'
), 'barred', ` + barredSQL + `, 'agreement', s.detail -> 'agreement' || jsonb_build_object('consents', ` + consentsSQL + `, 'shut_areas', ` + shutAreasSQL + `))`

const siteColumnsSQL = selecting + siteSQL + `
FROM site s
WHERE s.business_id = $1 `

// Site returns a site with its areas, deleted or not.
func (tx *Tx) Site(id site.ID) (site.Site, error) {
	row, err := one[document[site.Site]](tx, "site", string(id), siteColumnsSQL+`AND s.site_id = $2`, string(id))
	return row.value, err
}

// AllSites returns every site of the business that is not deleted, by id, with its areas.
func (tx *Tx) AllSites() ([]site.Site, error) {
	return documents[site.Site](tx, siteColumnsSQL+`AND s.deleted_at IS NULL ORDER BY s.site_id`)
}

// EverySite returns every site of the business, deleted ones too, by id, with its areas.
func (tx *Tx) EverySite() ([]site.Site, error) {
	return documents[site.Site](tx, siteColumnsSQL+`ORDER BY s.site_id`)
}

const insertPlantsSQL = `
INSERT INTO plant (
	business_id, plant_id, site_id, area_id, species_id, plant_count, height_cm,
	watering_earliest_days, watering_ideal_days, watering_latest_days, last_watered_on, detail
)
SELECT
	$1,
	p ->> 'id',
	p ->> 'site',
	p ->> 'area',
	p ->> 'species',
	(p ->> 'count')::integer,
	(p ->> 'height_cm')::integer,
	(p #>> '{watering,earliest}')::integer,
	(p #>> '{watering,ideal}')::integer,
	(p #>> '{watering,latest}')::integer,
	nullif(p #>> '{watering,last}', '')::date,
	p
FROM jsonb_array_elements($2::jsonb) AS p`

// InsertPlants adds plants; Exists when one is known already, NotFound when its area is not one of its site.
func (tx *Tx) InsertPlants(plants []site.Plant) error {
	if err := inserted(tx, insertPlantsSQL, plants); err != nil {
		return err
	}
	tx.tellPlants(plants, firm.Created)
	return tx.touchSites(sitesOf(plants))
}

// tellPlants tells what happened to plants.
func (tx *Tx) tellPlants(plants []site.Plant, kind firm.ChangeKind) {
	for _, plant := range plants {
		tx.Tell(firm.Change{Noun: firm.NounPlant, ID: string(plant.ID), Kind: kind, Site: plant.Site})
	}
}

// sitesOf lists where plants stand.
func sitesOf(plants []site.Plant) []site.ID {
	found := make([]site.ID, len(plants))
	for i, plant := range plants {
		found[i] = plant.Site
	}
	return found
}

// touchSitesSQL locks in the order of ids, so that two deeds do not wait for each other.
const touchSitesSQL = `
WITH locked AS (
	SELECT site_id FROM site WHERE business_id = $1 AND site_id = ANY ($2) ORDER BY site_id FOR UPDATE
)
UPDATE site
SET version = version + 1
FROM locked
WHERE site.business_id = $1 AND site.site_id = locked.site_id`

// touchSites raises the version of sites: something that a plan was made from has changed there.
func (tx *Tx) touchSites(sites []site.ID) error {
	if len(sites) == 0 {
		return nil
	}
	for _, id := range sites {
		tx.Tell(firm.Change{Noun: firm.NounSite, ID: string(id), Kind: firm.Changed, Site: id})
	}
	_, err := tx.exec(touchSitesSQL, ids(sites))
	return err
}

const plantColumnsSQL = selecting + plantSQL + `
FROM plant p
WHERE p.business_id = $1 `

// Plant returns a plant.
func (tx *Tx) Plant(id site.PlantID) (site.Plant, error) {
	row, err := one[document[site.Plant]](tx, "plant", string(id), plantColumnsSQL+`AND plant_id = $2`, string(id))
	return row.value, err
}

// PlantsOf returns every plant of some sites by id.
func (tx *Tx) PlantsOf(sites ...site.ID) ([]site.Plant, error) {
	return documents[site.Plant](tx, plantColumnsSQL+`AND site_id = ANY ($2) ORDER BY plant_id`, ids(sites))
}

// AllPlants returns every plant of the business by id.
func (tx *Tx) AllPlants() ([]site.Plant, error) {
	return documents[site.Plant](tx, plantColumnsSQL+`ORDER BY plant_id`)
}

const updatePlantsSQL = `
UPDATE plant
SET
	area_id = p ->> 'area',
	plant_count = (p ->> 'count')::integer,
	detail = p,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS p
WHERE plant.business_id = $1 AND plant.plant_id = p ->> 'id'`

// UpdatePlants writes records of plants anew, but for where they are and when they were watered last; NotFound when one
// is not known. Their sites get a new version.
func (tx *Tx) UpdatePlants(plants []site.Plant) error {
	if len(plants) == 0 {
		return nil
	}
	written, err := tx.exec(updatePlantsSQL, jsonOf(plants))
	if err != nil {
		return err
	}
	if written < len(plants) {
		return fault.New(fault.NotFound, "NOT_FOUND", "%d of %d plants are not known: want plants of this business", len(plants)-written, len(plants))
	}
	tx.tellPlants(plants, firm.Changed)
	return tx.touchSites(sitesOf(plants))
}

const setPlantsWateredSQL = `
UPDATE plant
SET last_watered_on = greatest(last_watered_on, told.watered_on)
FROM unnest($2::text[], $3::date[]) AS told (plant_id, watered_on)
WHERE plant.business_id = $1 AND plant.plant_id = told.plant_id
RETURNING plant.site_id`

// SetPlantsWatered moves the last watering of plants on; an earlier day than the known one changes nothing, so that
// reports may come in any order.
func (tx *Tx) SetPlantsWatered(lastOn map[site.PlantID]civil.Date) error {
	return setLast(tx, setPlantsWateredSQL, lastOn)
}

const insertProductsSQL = `
INSERT INTO product (business_id, product_id, name, material_id, form, registration, label_version, detail)
SELECT
	$1,
	p ->> 'id',
	p ->> 'name',
	p ->> 'material',
	p ->> 'form',
	coalesce(p ->> 'registration', ''),
	coalesce(p ->> 'label_version', ''),
	p
FROM jsonb_array_elements($2::jsonb) AS p`

// InsertProducts adds products with their labels; Exists when one is known already.
func (tx *Tx) InsertProducts(products []catalogue.Product) error {
	for _, product := range products {
		tx.Tell(firm.Change{Noun: firm.NounProduct, ID: string(product.ID), Kind: firm.Created})
	}
	if err := inserted(tx, insertProductsSQL, products); err != nil {
		return err
	}
	return tx.insertLabels(products)
}

// Product returns a product with its label, a withdrawn one too.
func (tx *Tx) Product(id catalogue.ProductID) (catalogue.Product, error) {
	row, err := one[document[catalogue.Product]](tx, "product", string(id),
		`SELECT detail FROM product WHERE business_id = $1 AND product_id = $2`, string(id))
	return row.value, err
}

// AllProducts returns every product of the business by id, withdrawn ones too: what was applied names them.
func (tx *Tx) AllProducts() ([]catalogue.Product, error) {
	return documents[catalogue.Product](tx, `SELECT detail FROM product WHERE business_id = $1 ORDER BY product_id`)
}
