package convert

import (
	"time"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
)

// IntegrationKey writes a key as it is at an instant of the machine's clock, without its secrets.
func IntegrationKey(names Names, k firm.IntegrationKey, now time.Time) *vernationv1.IntegrationKey {
	earlier := k.EarlierUntil
	if earlier <= civil.InstantOf(now) {
		earlier = 0
	}
	return &vernationv1.IntegrationKey{
		Name:               names.IntegrationKey(k.ID),
		DisplayName:        k.Name,
		Scopes:             k.Scopes,
		ExpireTime:         Timestamp(k.ExpiresAt),
		CreateTime:         Timestamp(k.CreatedAt),
		RotateTime:         Timestamp(k.RotatedAt),
		EarlierSecretUntil: Timestamp(earlier),
		LastUsedTime:       Timestamp(k.LastUsedAt),
		RevokeTime:         Timestamp(k.RevokedAt),
	}
}
