package firm

import (
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
)

// Kept is a value of the business's master data as it is kept, with what the value itself does not know.
type Kept[T any] struct {
	Value T `json:"value"`
	// ExternalID is what another system calls it; "" where none does.
	ExternalID string `json:"external_id,omitempty"`
	// Revision rises with each change of the record itself, from 1; it is not the version that publishing compares,
	// which rises with what happens there too.
	Revision int64 `json:"revision"`
	// DeletedAt is when it was deleted; unset: it is in use.
	DeletedAt civil.Instant `json:"deleted_at,omitempty"`
}

// InUse refuses what was deleted (Refused, DELETED). The kind of thing and its id are for the sentence.
func (k Kept[T]) InUse(thing, id string) error {
	if k.DeletedAt == 0 {
		return nil
	}
	f := fault.New(fault.Refused, "DELETED", "the %s %q was deleted at %v: what is deleted is kept for history and used no more", thing, id, k.DeletedAt)
	f.Subject = id
	return f
}

// Fresh refuses a change of what has moved since it was read (Stale, ETAG_STALE). A nil version compares nothing.
func (k Kept[T]) Fresh(version *int64) error {
	if version == nil || *version == k.Revision {
		return nil
	}
	return fault.New(fault.Stale, "ETAG_STALE", "it was changed since its etag was read: read it again, then change it")
}
