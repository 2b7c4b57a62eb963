package firm

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// ProductLabel is a product as it was with a label that was once read.
type ProductLabel struct {
	ReadAt  civil.Instant // unset: from before labels were kept
	Product catalogue.Product
}
