package firm

import "vernation/scheduler/civil"

// Webhook is an address of somebody else's that changes are sent to. Its times are of the machine's clock.
type Webhook struct {
	ID    string
	URL   string
	Nouns []Noun // only changes of these; empty is all
	// Secret is the key of the signatures. OldSecret signs too until an instant after a rotation.
	Secret         []byte
	OldSecret      []byte
	OldSecretUntil civil.Instant
	CreatedAt      civil.Instant
	DeletedAt      civil.Instant // unset while it stands
}

// DeliveryState is where a delivery stands.
type DeliveryState string

// The states.
const (
	DeliveryPending DeliveryState = "pending"
	DeliveryDone    DeliveryState = "delivered"
	DeliveryGivenUp DeliveryState = "given-up"
)

// Delivery is a run of changes that is sent to a webhook in one request. Its times are of the machine's clock.
type Delivery struct {
	Webhook     string
	First, Last int64 // positions of its first and last change
	State       DeliveryState
	Attempts    int
	LastError   string // "" when no attempt failed
	CreatedAt   civil.Instant
	AttemptedAt civil.Instant
	SettledAt   civil.Instant // delivered or given up
	NextAt      civil.Instant // when a pending one is tried next, known of the first that waits
}
