package dilution

import (
	"fmt"
	"math/big"
	"strconv"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// Balance returns what is left of a mix after so much of it was applied. Less than nothing means that the report
// cannot be right: more went out than was made.
func Balance(made, applied quantity.Volume) (left quantity.Volume) { return made.Sub(applied) }

// Household computes a household dilution: the strength of the finished mix in percent and a text for people
// that says what the ratio counts. It gives no leave to use it: the law decides on that. It panics on a
// dilution that the catalogue would have refused.
func Household(d catalogue.Dilution) (percent *big.Rat, text string) {
	rate := quantity.NewRatio(d.Parts, quantity.Convention(d.Convention))
	if err := rate.Validate(); err != nil {
		panic(fmt.Sprintf("dilution: household dilution 1:%d: %v", d.Parts, err))
	}
	// The shortest decimal that reads back as the same float is the number that stands in the data file.
	stock, ok := new(big.Rat).SetString(strconv.FormatFloat(d.StockPercent, 'f', -1, 64))
	if !ok || stock.Sign() <= 0 || stock.Cmp(big.NewRat(100, 1)) > 0 {
		panic(fmt.Sprintf("dilution: stock of %v %%: want more than 0 and 100 at most", d.StockPercent))
	}
	percent = new(big.Rat).Mul(stock, rate.Share())
	counts := "1 part made up to %d"
	if rate.Convention == quantity.AddedTo {
		counts = "1 part added to %d of water"
	}
	return percent, fmt.Sprintf("1:%d of %s %% (%s): %s %%", d.Parts, quantity.Decimal(stock, 3), fmt.Sprintf(counts, d.Parts), quantity.Decimal(percent, 3))
}
