package scheduler_test

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"
)

func contextOf(t errorer) context.Context { return context.Background() }

func TestDbgOracle(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	from, _ := strconv.Atoi(os.Getenv("FROM"))
	items, _ := strconv.Atoi(os.Getenv("ITEMS"))
	it, _ := strconv.Atoi(os.Getenv("IT"))
	miss, gave, frozen := 0, 0, 0
	var slow time.Duration
	begin := time.Now()
	for s := from; s < from+n; s++ {
		c := compare(t, uint64(s), items, it)
		if c.gaveUp {
			gave++
			fmt.Println("gave up", s, c.leaves, c.took)
		}
		if c.frozen {
			frozen++
		}
		if c.took > time.Second {
			fmt.Println("slow", s, c.took, c.leaves)
		}
		slow = max(slow, c.took)
		if !c.frozen && !c.gaveUp && c.least < c.solved && c.least > 0 {
			miss++
			fmt.Println("MISS", s, c.solved, c.least)
			if os.Getenv("V") != "" {
				fmt.Println(planText(c.plan))
				fmt.Println("ORACLE")
				fmt.Println(planText(c.best))
			}
		}
		if t.Failed() {
			break
		}
	}
	fmt.Println("miss", miss, "gave", gave, "frozen", frozen, "of", n, "slowest", slow, "in", time.Since(begin))
}
