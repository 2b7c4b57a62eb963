package store

import (
	"context"
	"sync"
	"time"

	"vernation/server/internal/firm"
)

// newsEvery is how often the counts of changes are looked at while somebody waits for one: a change of another server is
// heard of within it. A poll needs no connection of its own and so works behind a pooler of transactions, where LISTEN
// does not.
const newsEvery = 500 * time.Millisecond

// news wakes those who wait for changes of a business.
type news struct {
	mutex sync.Mutex
	// next is closed and replaced when something changed; waiting counts who waits.
	next    map[firm.BusinessID]chan struct{}
	waiting map[firm.BusinessID]int
	polling bool
	seen    map[firm.BusinessID]int64
}

func newNews() *news {
	return &news{next: map[firm.BusinessID]chan struct{}{}, waiting: map[firm.BusinessID]int{}, seen: map[firm.BusinessID]int64{}}
}

// tell wakes whoever waits for a business.
func (n *news) tell(business firm.BusinessID) {
	n.mutex.Lock()
	defer n.mutex.Unlock()
	if next, waits := n.next[business]; waits {
		close(next)
		delete(n.next, business)
	}
}

// businesses lists whose changes are waited for.
func (n *news) businesses() []firm.BusinessID {
	n.mutex.Lock()
	defer n.mutex.Unlock()
	listed := make([]firm.BusinessID, 0, len(n.waiting))
	for business := range n.waiting {
		listed = append(listed, business)
	}
	return listed
}

// News waits for changes of a business. It is made before the changes are read, so that none falls between.
type News struct {
	store    *Store
	business firm.BusinessID
}

// News begins to listen for changes of a business; the caller calls Close.
func (s *Store) News(business firm.BusinessID) *News {
	n := s.news
	n.mutex.Lock()
	defer n.mutex.Unlock()
	n.waiting[business]++
	if !n.polling {
		n.polling = true
		go s.pollNews()
	}
	return &News{store: s, business: business}
}

// Next returns a channel that closes when something has changed since Next was called. It may close without cause.
func (w *News) Next() <-chan struct{} {
	n := w.store.news
	n.mutex.Lock()
	defer n.mutex.Unlock()
	if n.next[w.business] == nil {
		n.next[w.business] = make(chan struct{})
	}
	return n.next[w.business]
}

// Close ends the listening.
func (w *News) Close() {
	n := w.store.news
	n.mutex.Lock()
	defer n.mutex.Unlock()
	if n.waiting[w.business]--; n.waiting[w.business] == 0 {
		delete(n.waiting, w.business)
		delete(n.seen, w.business)
	}
}

const countsSQL = `
SELECT business_id AS business, last_position AS last
FROM queue.change_count
WHERE business_id = ANY ($1)
ORDER BY business_id`

// pollNews looks at the counts, one query for all who wait, until nobody waits any more.
func (s *Store) pollNews() {
	for {
		time.Sleep(newsEvery)
		of := s.news.businesses()
		if len(of) == 0 && s.news.rest() {
			return
		}
		ctx, cancel := context.WithTimeout(context.Background(), 10*newsEvery)
		rows := []struct {
			Business string
			Last     int64
		}{}
		err := s.across(ctx, &rows, countsSQL, ids(of))
		cancel()
		if err != nil {
			s.log.Debug("the counts of changes could not be read", "err", err)
			continue
		}
		for _, row := range rows {
			if s.news.sees(firm.BusinessID(row.Business), row.Last) {
				s.news.tell(firm.BusinessID(row.Business))
			}
		}
	}
}

// rest ends the polling unless somebody has begun to wait meanwhile.
func (n *news) rest() bool {
	n.mutex.Lock()
	defer n.mutex.Unlock()
	n.polling = len(n.waiting) > 0
	return !n.polling
}

// sees notes a count and says whether it is new.
func (n *news) sees(business firm.BusinessID, last int64) bool {
	n.mutex.Lock()
	defer n.mutex.Unlock()
	if n.waiting[business] == 0 {
		return false
	}
	before, known := n.seen[business]
	n.seen[business] = last
	return !known || before != last
}
