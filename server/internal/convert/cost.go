package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
)

// Cost writes money by part: the parts that are not zero, in the order in which they are shown.
func Cost(c scheduler.Cost) *vernationv1.Cost {
	written := &vernationv1.Cost{TotalMinor: int64(c.Total)}
	for _, part := range scheduler.CostParts {
		if amount := c.Parts[part]; amount != 0 {
			written.Parts = append(written.Parts, &vernationv1.CostAmount{Part: costParts.enum(part), AmountMinor: int64(amount)})
		}
	}
	return written
}
