package firm

import "vernation/scheduler/civil"

// IntegrationKey is what a program of a business says who it is by. Its times are of the machine's clock.
type IntegrationKey struct {
	ID   string
	Name string // for people
	// Scopes are collections that it may be used for; none is all that the role of an integration may.
	Scopes []string
	// Hash is the SHA-256 of the secret; EarlierHash that of the secret before, which counts until EarlierUntil.
	Hash, EarlierHash []byte
	EarlierUntil      civil.Instant
	ExpiresAt         civil.Instant // unset is never
	CreatedAt         civil.Instant
	CreatedBy         string // subject
	RotatedAt         civil.Instant
	LastUsedAt        civil.Instant // to the minute; unset before its first use
	RevokedAt         civil.Instant // unset while it counts
}
