package feed_test

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"vernation/server/internal/convert"
	"vernation/server/internal/feed"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// courierAt makes the test's own program a courier of a database, which a test then kills.
const courierAt = "VERNATION_TEST_COURIER_DATABASE"

func TestMain(m *testing.M) {
	if url := os.Getenv(courierAt); url != "" {
		if err := courier(url); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	storetest.Main(m)
}

// courier sends until it is killed.
func courier(url string) error {
	kept, err := store.Open(context.Background(), url, &firm.Clock{}, nil)
	if err != nil {
		return err
	}
	return feed.Deliver(context.Background(), kept, convert.DeliveryBody, options("killed"))
}

// options are those of a courier in a hurry.
func options(name string) feed.CourierOptions {
	return feed.CourierOptions{
		Name: name, Reach: feed.Reach{Inside: true}, Poll: 10 * time.Millisecond, Lease: 2 * time.Second, AnswerWithin: time.Second,
		FirstPause: 20 * time.Millisecond, MostPause: 40 * time.Millisecond, Attempts: 4,
	}
}
